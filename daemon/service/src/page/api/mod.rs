//! The facts of the page for programs: present, past and book as JSON, and figures for whoever watches the service.
//!
//! One list says what can be asked for, what is answered, and by whom: the routes and their [description] are made from it, so that
//! neither can promise what the other does not keep. Nothing is changed by way of it.

mod answers;
mod description;

use std::sync::Arc;

use axum::Router;
use axum::routing::{MethodRouter, get};
use schemars::{JsonSchema, Schema, SchemaGenerator};

use super::House;
use super::health::{self, Health};
use super::metrics;
use crate::book::{LookBack, Sheet};
use crate::facts::{AlarmFacts, HouseFacts};
use answers::{BenchAnswer, EventsAsked};
use bloom_text::Payload;
pub use description::description;

/// One thing that can be asked for, by GET.
struct Question {
    /// Its name among the others.
    name: &'static str,
    path: &'static str,
    /// What is answered, in a sentence.
    summary: &'static str,
    /// The schema of the parameters beside those in the path, if it takes any.
    asked: Option<fn(&mut SchemaGenerator) -> Schema>,
    answer: Answer,
    by: MethodRouter<Arc<House>>,
}

/// What an answer is.
enum Answer {
    /// JSON of this schema.
    Json(fn(&mut SchemaGenerator) -> Schema),
    /// The same with status 200 or 503.
    Health(fn(&mut SchemaGenerator) -> Schema),
    /// An OpenAPI document.
    Description,
    /// Text of this media type.
    Text(&'static str),
}

fn schema_of<T: JsonSchema>(generator: &mut SchemaGenerator) -> Schema {
    generator.subschema_for::<T>()
}

fn questions() -> Vec<Question> {
    let of = |name, path, summary, answer, by| Question { name, path, summary, asked: None, answer, by };
    vec![
        of(
            "house",
            "/api/house",
            "What the house is like now: standing alarms, every bench, and how the service fares",
            Answer::Json(schema_of::<HouseFacts>),
            get(answers::house),
        ),
        of(
            "alarms",
            "/api/alarms",
            "The alarms that stand, those that nobody took note of first",
            Answer::Json(schema_of::<Vec<AlarmFacts>>),
            get(answers::alarms),
        ),
        of(
            "bench",
            "/api/benches/{bench}",
            "One bench: what it is like now, its alarms, its bloom, and what the book says of it",
            Answer::Json(schema_of::<BenchAnswer>),
            get(answers::bench),
        ),
        Question {
            asked: Some(schema_of::<EventsAsked>),
            ..of(
                "events",
                "/api/events",
                "Events of the record, newest first, each as the broker was told it",
                Answer::Json(schema_of::<Vec<Payload<'static>>>),
                get(answers::events),
            )
        },
        of(
            "tonight",
            "/api/tonight",
            "Tonight's sheet of each bench that is open or in bud",
            Answer::Json(schema_of::<Vec<Sheet>>),
            get(answers::tonight),
        ),
        of(
            "season",
            "/api/season",
            "Each bloom beside earlier ones, newest first",
            Answer::Json(schema_of::<Vec<LookBack>>),
            get(answers::season),
        ),
        of(
            "description",
            "/api/openapi.json",
            "This description",
            Answer::Description,
            get(answers::own_description),
        ),
        of(
            "moving",
            "/watch/moving",
            "Whether every running part of the watch makes progress, as its watchdog sees it",
            Answer::Health(schema_of::<Health>),
            get(health::moving),
        ),
        of(
            "serving",
            "/watch/serving",
            "Whether every part of the watch has begun and makes progress, and the house can be shown",
            Answer::Health(schema_of::<Health>),
            get(health::serving),
        ),
        of(
            "metrics",
            "/metrics",
            "Figures of the benches and of the service itself, in the text form of OpenMetrics 1.0",
            Answer::Text(metrics::MEDIA_TYPE),
            get(metrics::show),
        ),
    ]
}

/// The routes of all that can be asked for.
pub(super) fn routes() -> Router<Arc<House>> {
    questions().into_iter().fold(Router::new(), |router, question| router.route(question.path, question.by))
}
