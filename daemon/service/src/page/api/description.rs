//! What can be asked for, as an OpenAPI 3.1 document.

use schemars::generate::SchemaSettings;
use schemars::transform::RecursiveTransform;
use schemars::{Schema, SchemaGenerator};
use serde_json::{Map, Value, json};

use super::{Answer, Question, questions};
use crate::page::trouble::{PROBLEM_JSON, Problem};

/// The document that `/api/openapi.json` answers.
pub fn description() -> Value {
    let mut settings = SchemaSettings::draft2020_12().for_serialize();
    settings.definitions_path = "/components/schemas".into();
    let mut generator = settings.with_transform(RecursiveTransform(never_null)).into_generator();
    let problem = generator.subschema_for::<Problem>();
    let mut paths = Map::new();
    for question in questions() {
        paths.insert(
            question.path.to_owned(),
            json!({ "get": operation(&question, &problem, &mut generator) }),
        );
    }
    json!({
        "openapi": "3.1.0",
        "info": {
            "title": "anthesisd",
            "version": env!("CARGO_PKG_VERSION"),
            "description": "The facts of one glass-house as its page shows them. Times are RFC 3339 in UTC, dates are local to the \
                            site, and every figure has its unit in its name. What is not known is left out, never zero or null. \
                            Fields may be added in later versions.",
            "license": { "name": "MIT or Apache-2.0, as you prefer", "identifier": env!("CARGO_PKG_LICENSE") }
        },
        "servers": [{ "url": "/" }],
        "security": [{}, { "password": [] }],
        "paths": paths,
        "components": {
            "schemas": generator.take_definitions(true),
            "securitySchemes": {
                "password": {
                    "type": "http",
                    "scheme": "basic",
                    "description": "Where the page has a password: that, with any name."
                }
            }
        }
    })
}

fn operation(question: &Question, problem: &Schema, generator: &mut SchemaGenerator) -> Value {
    let json = |schema: &Schema, media: &str| json!({ media: { "schema": schema } });
    let answered = |what: &str, content: Value| json!({ "description": what, "content": content });
    let mut responses = Map::new();
    let mut tell = |status: &str, answer: Value| responses.insert(status.to_owned(), answer);
    match question.answer {
        Answer::Json(schema) => {
            tell("200", answered("What was asked for", json(&schema(generator), "application/json")));
        }
        Answer::Health(schema) => {
            let schema = schema(generator);
            tell("200", answered("It is so", json(&schema, "application/json")));
            tell("503", answered("It is not so", json(&schema, "application/json")));
        }
        Answer::Description => {
            tell(
                "200",
                answered(
                    "An OpenAPI document",
                    json!({ "application/json": { "schema": { "type": "object" } } }),
                ),
            );
        }
        Answer::Text(media) => {
            tell("200", answered("What was asked for", json!({ media: { "schema": { "type": "string" } } })));
        }
    }
    tell("default", answered("What is wrong, and what to do (RFC 9457)", json(problem, PROBLEM_JSON)));
    let mut parameters = in_path(question.path);
    parameters.extend(question.asked.map(|asked| in_query(asked, generator)).unwrap_or_default());
    json!({
        "operationId": question.name,
        "summary": question.summary,
        "parameters": parameters,
        "responses": responses,
    })
}

/// The names in braces. They are ids, all of them.
fn in_path(path: &str) -> Vec<Value> {
    let named = path.split('/').filter_map(|part| part.strip_prefix('{')?.strip_suffix('}'));
    named
        .map(|name| json!({ "name": name, "in": "path", "required": true, "description": format!("The id of the {name}"), "schema": { "type": "string" } }))
        .collect()
}

/// The fields of what is asked, each of which may be left out.
fn in_query(asked: fn(&mut SchemaGenerator) -> Schema, generator: &SchemaGenerator) -> Vec<Value> {
    // by a generator of its own, for the whole of it is no schema of the document
    let mut own =
        generator.settings().clone().with(|settings| settings.inline_subschemas = true).into_generator();
    let mut schema = asked(&mut own);
    RecursiveTransform(never_null).0(&mut schema);
    let Some(Value::Object(fields)) = schema.get("properties") else { return Vec::new() };
    fields
        .iter()
        .map(|(name, field)| {
            let mut field = field.clone();
            let said = field.as_object_mut().and_then(|field| field.remove("description"));
            json!({ "name": name, "in": "query", "description": said, "schema": field })
        })
        .collect()
}

/// An absent figure is left out, so none of them is ever null.
fn never_null(schema: &mut Schema) {
    let null = json!("null");
    if let Some(Value::Array(kinds)) = schema.get_mut("type") {
        kinds.retain(|kind| *kind != null);
        if let [kind] = &kinds[..] {
            let kind = kind.clone();
            schema.insert("type".to_owned(), kind);
        }
    }
    if let Some(Value::Array(choices)) = schema.get_mut("anyOf") {
        choices.retain(|choice| choice.get("type") != Some(&null));
        if let [Value::Object(only)] = &choices[..] {
            let only = only.clone();
            schema.remove("anyOf");
            for (key, value) in only {
                schema.insert(key, value);
            }
        }
    }
}
