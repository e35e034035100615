//! Each warning in earnest: a house that is well, and troubles made one by one. The service, its store, the lines and the broker
//! are real; the time is not.

mod acts;
mod benches;
mod database;
mod hearing;
mod stage;

use std::fs::{self, Permissions};
use std::io;
use std::os::unix::fs::PermissionsExt;
use std::sync::Arc;

use anthesisd::clock::PlayedMachine;
use anthesisd::command::{RunOptions, start};
use anthesisd::config::Config;
use bloom_model::time::Time;

use super::audience::Audience;
use super::house::House;
use super::screen::Screen;
use super::{Calls, Rehearsal, said};
use crate::broker;
use acts::{ACTS, Act};
use benches::{Benches, IDS};
use database::Database;
use hearing::Hearing;
use stage::{Speed, Stage};

/// As it is unless set, so that each comes as GROWER.md says.
const SILENT_AFTER_MIN: u32 = 15;
/// 2027-05-31T12:00:00Z, nine in the morning in Halifax: late enough for no morning's bulletin to come between.
const BEGINS: Time = Time::from_unix_ms(1_811_764_800_000);

/// The warnings that can be rehearsed, in the order of their troubles.
pub fn warnings() -> impl Iterator<Item = &'static str> {
    ACTS.iter().map(|act| act.warning)
}

impl Rehearsal {
    /// Lets warnings come and go, in a folder that was made for it: those that are named, or all where none is.
    ///
    /// # Errors
    /// With what went wrong: it could not be played, or a warning did not come as it must.
    pub async fn play_warnings(&self, house: &House, named: &[String]) -> Result<(), String> {
        let port = if self.own.url.is_some() { 0 } else { broker::start().map_err(said)? };
        let database = Database::start().map_err(said)?;
        let benches = Benches::hang(house).map_err(said)?;
        let config = self.configure_warnings(house, port, &database)?;
        let audience = Audience::gather(&config, &self.own).await?;
        let screen = Screen::new();
        let is_played = |act: &&Act| named.is_empty() || named.iter().any(|name| name == act.warning);
        let acts: Vec<&Act> = ACTS.iter().filter(is_played).collect();
        introduce(&screen, &audience)?;

        let machine = PlayedMachine::at(BEGINS);
        let clock = Arc::new(machine.clock());
        let calls = Calls::listen().map_err(said)?;
        let running = start(&config, RunOptions { clock, rehearsal: true })?;
        let speed = if self.quick { Speed::QUICK } else { Speed::TO_BE_READ };
        let hearing = Hearing::new(audience.base.clone());
        let mut stage = Stage {
            calls,
            running,
            audience,
            screen,
            hearing,
            machine,
            benches,
            database,
            record: None,
            house,
            speed,
        };
        let outcome = stage.play(&acts).await;
        let Stage { running, audience, record, benches, .. } = stage;
        // whatever the rehearsal broke off in: the service writes its last words, and its lines stay up until it has
        drop(record);
        let stopped = running.stop().await;
        drop(benches);
        audience.leave(&IDS).await;
        outcome.and(stopped)
    }

    fn configure_warnings(&self, house: &House, port: u16, database: &Database) -> Result<Config, String> {
        let token = house.path("token");
        let write = || -> io::Result<()> {
            fs::write(&token, "rehearsal\n")?;
            fs::set_permissions(&token, Permissions::from_mode(0o600))
        };
        write().map_err(|error| format!("{} cannot be written: {error}", token.display()))?;
        let readings_to = format!(
            "\n[readings_to]\ndatabase = \"http://127.0.0.1:{}\"\norganization = \"glasshouse\"\nbucket = \"benches\"\n\
             token_file = \"token\"\n",
            database.port()
        );
        house.configure(&self.own, port, SILENT_AFTER_MIN, &(readings_to + &Benches::configuration()))
    }
}

fn introduce(screen: &Screen, audience: &Audience) -> Result<(), String> {
    screen.line(
        "Three virtual benches: east-3 and east-4 on one line, and west-1, where a bud stands, on another. All is well at first.",
    )?;
    screen.line(&audience.how_to_listen)?;
    screen.line(
        "Troubles come one after the other. Each stands until its warning has come to the phone, and is then mended; the next waits\n\
         until the end of that was told. What to do when one comes in earnest: GROWER.md, \"When a warning comes\".\n\
         Lines with dots are no messages: they say what is waited for.\n",
    )
}
