//! The play: a trouble, its warning on the phone, the mending, and what ends it.

use std::time::{Duration, Instant};

use anthesisd::clock::{PlayedMachine, Source};
use anthesisd::command::Running;
use chrono::TimeDelta;
use rusqlite::Connection;
use serde_json::json;
use tokio::time::MissedTickBehavior;

use super::acts::{Act, Trouble};
use super::benches::{Benches, Board};
use super::database::Database;
use super::hearing::Hearing;
use crate::audience::Audience;
use crate::house::House;
use crate::inbox::local;
use crate::screen::Screen;
use crate::{Calls, said};

/// Time passes in steps of this length on the wall.
const STEP: Duration = Duration::from_millis(50);
/// The boards speak this often, by the house's time.
const SPEAK_EVERY: TimeDelta = TimeDelta::minutes(1);
/// What has not come after this long on the wall does not come: the slowest, told by the house's time and by retries, take a
/// quarter of it.
const PATIENCE: Duration = Duration::from_secs(240);
/// All is well for so long before the first trouble, and after each.
const WELL_FOR: TimeDelta = TimeDelta::minutes(5);
/// So much passes in a step while the record is held: each try to write holds the service up for seconds, and these must not
/// be hours in which it hears no bench.
const SLOW: TimeDelta = TimeDelta::seconds(1);
/// The clock is set forward by this.
const SET_BY: TimeDelta = TimeDelta::hours(1);

/// How much of the house's time passes in a step.
#[derive(Debug, Clone, Copy)]
pub(super) struct Speed(TimeDelta);

impl Speed {
    /// A hundred and fifty times as fast as life: a quarter of an hour in six seconds.
    pub(super) const TO_BE_READ: Self = Self(TimeDelta::milliseconds(7_500));
    /// Three hundred times: what the service does by the wall's time takes most of it now.
    pub(super) const QUICK: Self = Self(TimeDelta::milliseconds(15_000));
}

/// What is under way.
pub(super) struct Stage<'a> {
    pub(super) calls: Calls,
    pub(super) running: Running,
    pub(super) audience: Audience,
    pub(super) screen: Screen,
    pub(super) hearing: Hearing,
    pub(super) machine: PlayedMachine,
    pub(super) benches: Benches,
    pub(super) database: Database,
    /// The other program's hold on the record.
    pub(super) record: Option<Connection>,
    pub(super) house: &'a House,
    pub(super) speed: Speed,
}

impl Stage<'_> {
    /// Plays every trouble, and says how it went.
    pub(super) async fn play(&mut self, acts: &[&Act]) -> Result<(), String> {
        if !self.pass("the service reads the benches", Hearing::knows_all_benches).await? {
            return Err("the service has not said a word of every bench: see its log".to_owned());
        }
        self.book("spadix-visible").await?;
        self.be_well().await?;
        let mut wrong = Vec::new();
        for (number, act) in (1..).zip(acts) {
            self.screen.line(&format!("\n{number} of {}. {}", acts.len(), act.befalls))?;
            let faults = self.play_act(act).await?;
            wrong.extend(faults.iter().map(|fault| format!("\n  {number}. {fault}")));
        }
        wrong.extend(self.hearing.inbox.fault());
        self.screen.end_progress()?;
        self.close(acts.len(), &wrong)
    }

    /// One trouble; gives what was not as it must be.
    async fn play_act(&mut self, act: &Act) -> Result<Vec<String>, String> {
        self.hearing.begin();
        self.befall(act.trouble).await?;
        let came = self.pass(act.warning, |hearing| hearing.has(act.warning)).await?;
        self.screen.line(&format!("    {}", act.mended))?;
        self.mend(act.trouble)?;
        if came {
            self.pass(act.over, |hearing| hearing.has(act.over)).await?;
        }
        self.be_well().await?;
        let faults = self.hearing.faults(act);
        let verdict = if faults.is_empty() {
            format!("{} came once and was taken back by {}.", act.warning, act.over)
        } else {
            format!("NOT AS IT MUST BE: {}.", faults.join("; "))
        };
        self.screen.line(&format!("    {verdict}"))?;
        Ok(faults)
    }

    async fn befall(&mut self, trouble: Trouble) -> Result<(), String> {
        match trouble {
            Trouble::BoardOff => self.board("east-3")?.has_power = false,
            Trouble::RangerRepeats => self.board("west-1")?.rim_repeats = true,
            Trouble::RangerTurned => self.board("west-1")?.rim_turned = true,
            Trouble::LineUnplugged => self.benches.unplug(),
            Trouble::HeaterOff => self.board("east-4")?.air = (12.0, 80.0),
            Trouble::Sun => self.board("west-1")?.air = (35.0, 80.0),
            Trouble::ClockSet => self.machine.set_forward(SET_BY),
            Trouble::RecordHeld => {
                let path = self.house.store_path();
                let hold = || {
                    let other = Connection::open(&path)?;
                    other.execute_batch("BEGIN IMMEDIATE")?;
                    Ok(other)
                };
                let held = hold().map_err(|error: rusqlite::Error| format!("{}: {error}", path.display()))?;
                self.record = Some(held);
                // something that must be written at once
                self.book("bract-dropped").await?;
            }
            Trouble::DatabaseRefuses => {
                self.database.refuse(true);
                // something to forward: other readings go to the record once a minute by the wall's time
                self.book("bract-dropped").await?;
            }
        }
        Ok(())
    }

    fn mend(&mut self, trouble: Trouble) -> Result<(), String> {
        match trouble {
            Trouble::BoardOff => self.board("east-3")?.has_power = true,
            Trouble::RangerRepeats => self.board("west-1")?.rim_repeats = false,
            Trouble::RangerTurned => self.board("west-1")?.rim_turned = false,
            Trouble::LineUnplugged => self.benches.plug_in(self.house).map_err(said)?,
            Trouble::HeaterOff => self.board("east-4")?.air = Benches::usual_air(),
            Trouble::Sun => self.board("west-1")?.air = Benches::usual_air(),
            // a clock that is set again is doubted anew
            Trouble::ClockSet => {}
            Trouble::RecordHeld => self.record = None,
            Trouble::DatabaseRefuses => self.database.refuse(false),
        }
        Ok(())
    }

    fn board(&mut self, bench: &str) -> Result<&mut Board, String> {
        self.benches.board(bench).ok_or_else(|| format!("no bench {bench} in the rehearsal"))
    }

    /// Books a sign of the bud, as a grower would on the phone.
    async fn book(&mut self, sign: &str) -> Result<(), String> {
        let topic = self.hearing.inbox.topic("west-1/sign");
        self.screen.line(&format!("    You book on the phone: west-1 {sign}."))?;
        self.audience.phone.publish(topic, json!({ "sign": sign }).to_string(), false).await
    }

    async fn be_well(&mut self) -> Result<(), String> {
        let (machine, until) = (self.machine.clone(), self.machine.running() + WELL_FOR);
        self.pass("all is well", move |_| machine.running() >= until).await.map(drop)
    }

    /// Lets time pass until something is so; `false` if it is not so after long.
    async fn pass(&mut self, what: &str, is_so: impl Fn(&Hearing) -> bool) -> Result<bool, String> {
        let began = Instant::now();
        let mut step = tokio::time::interval(STEP);
        // held up, it does not run after the time that it lost
        step.set_missed_tick_behavior(MissedTickBehavior::Delay);
        while !is_so(&self.hearing) {
            if began.elapsed() > PATIENCE {
                return Ok(false);
            }
            tokio::select! {
                why = self.calls.off() => return Err(why.to_owned()),
                () = self.running.ended() => return Err("the service has ended".to_owned()),
                heard = self.audience.phone.next() => {
                    let line = self.hearing.hear(&heard.ok_or("the listener has ended")?);
                    if let Some(line) = line {
                        self.screen.line(&line)?;
                    }
                }
                _ = step.tick() => self.step(what)?,
            }
        }
        Ok(true)
    }

    fn step(&mut self, what: &str) -> Result<(), String> {
        let spoken = |machine: &PlayedMachine| machine.running().num_seconds() / SPEAK_EVERY.num_seconds();
        let before = spoken(&self.machine);
        self.machine.pass(if self.record.is_some() { SLOW } else { self.speed.0 });
        if spoken(&self.machine) > before {
            self.benches.speak().map_err(said)?;
        }
        self.screen.progress(&format!("{}  ...  waiting: {what}", local(self.machine.wall())))
    }

    fn close(&self, acts: usize, wrong: &[String]) -> Result<(), String> {
        if wrong.is_empty() {
            self.screen.line(&format!(
                "\nWarnings that came once, named the right benches and were taken back: {acts} of {acts}; {} messages in all.",
                self.hearing.inbox.messages()
            ))?;
        }
        self.screen.line(&format!(
            "\nstore          {}\nconfiguration  {}\nlog            {}",
            self.house.store_path().display(),
            self.house.config_path().display(),
            self.house.log_path().display()
        ))?;
        if wrong.is_empty() {
            Ok(())
        } else {
            Err(format!("not every warning came as it must: {}", wrong.concat()))
        }
    }
}
