//! Three benches on two lines: what their boards say, well or not.

use std::io;
use std::time::Duration;

use bloom_model::air::speed_of_sound_m_s;
use serde_json::json;

use super::super::house::House;
use bench_sim::dice::{Concern, Dice};
use bench_sim::pty::Port;

/// What a ranger takes for the speed of sound, m/s.
const ASSUMED_SPEED_M_S: f64 = 343.2;
/// Face of the overhead ranger to the pot's rim, m.
const TIP_MOUNT_M: f64 = 3.1;
/// Face of the side ranger to the closed rim, m.
const RIM_MOUNT_M: f64 = 0.95;
/// Face of the side ranger to the wall behind the bud, m.
const WALL_M: f64 = 2.4;
/// Height of the buds, m.
const HEIGHT_M: f64 = 1.2;
/// Two echoes of a ranger differ by this, m (standard deviation; common practice).
const RANGER_NOISE_M: f64 = 0.002;
/// The air of a house that is well, °C and %.
const AIR: (f64, f64) = (26.0, 72.0);

/// The benches: id, plant, line.
const BENCHES: [(&str, &str, usize); 3] =
    [("east-3", "AT-0412", 0), ("east-4", "AT-0421", 0), ("west-1", "AT-0377", 1)];
/// The lines, by the names of their ports.
const LINES: [&str; 2] = ["east", "west"];
/// Ids of the benches.
pub(super) const IDS: [&str; 3] = [BENCHES[0].0, BENCHES[1].0, BENCHES[2].0];

/// All benches with their lines.
#[derive(Debug)]
pub(super) struct Benches {
    boards: Vec<Board>,
    lines: Vec<Option<Port>>,
    dice: Dice,
}

/// What one bench's board measures.
#[derive(Debug)]
pub(super) struct Board {
    id: &'static str,
    line: usize,
    /// It has power.
    pub(super) has_power: bool,
    /// Air at the bench, °C and %.
    pub(super) air: (f64, f64),
    /// The side ranger repeats its newest figure, m.
    pub(super) rim_repeats: bool,
    rim_range_m: f64,
    /// The side ranger was turned to the wall.
    pub(super) rim_turned: bool,
}

impl Benches {
    /// Hangs them on lines in the house.
    ///
    /// # Errors
    /// When the system has no pseudo-terminal left.
    pub(super) fn hang(house: &House) -> io::Result<Self> {
        let board = |(id, _, line)| Board {
            id,
            line,
            has_power: true,
            air: AIR,
            rim_repeats: false,
            rim_range_m: RIM_MOUNT_M,
            rim_turned: false,
        };
        let lines = LINES.map(|name| house.open_port(name).map(Some));
        Ok(Self {
            boards: BENCHES.map(board).into(),
            lines: lines.into_iter().collect::<io::Result<_>>()?,
            dice: Dice::new(1, Concern::RangerNoise(0)),
        })
    }

    /// Lines and benches, for the service's configuration.
    pub(super) fn configuration() -> String {
        let line = |name| format!("\n[[intake]]\nkind = \"serial\"\nport = \"ports/{name}\"\n");
        let bench = |(id, plant, _)| {
            format!(
                "\n[[bench]]\nid = \"{id}\"\nplant = \"{plant}\"\nprofile = \"titan-arum\"\n\
                 tip = {{ mount_height_m = {TIP_MOUNT_M:?}, assumed_speed_m_s = {ASSUMED_SPEED_M_S:?} }}\n\
                 rim = {{ mount_distance_m = {RIM_MOUNT_M:?}, assumed_speed_m_s = {ASSUMED_SPEED_M_S:?} }}\n\
                 limits = {{ alarm_temperature_c = [15, 42] }}\n"
            )
        };
        LINES.into_iter().map(line).chain(BENCHES.map(bench)).collect()
    }

    /// One bench's board.
    pub(super) fn board(&mut self, id: &str) -> Option<&mut Board> {
        self.boards.iter_mut().find(|board| board.id == id)
    }

    /// The air of the house, of which `board` may say otherwise.
    pub(super) const fn usual_air() -> (f64, f64) {
        AIR
    }

    /// Pulls the line of the east benches out of the machine.
    pub(super) fn unplug(&mut self) {
        self.lines[0] = None;
    }

    /// Plugs it in again.
    ///
    /// # Errors
    /// When the system has no pseudo-terminal left.
    pub(super) fn plug_in(&mut self, house: &House) -> io::Result<()> {
        self.lines[0] = Some(house.open_port(LINES[0])?);
        Ok(())
    }

    /// Every board that has power says what it measures. What nobody reads at once is lost, as on any line.
    ///
    /// # Errors
    /// When a terminal fails.
    pub(super) fn speak(&mut self) -> io::Result<()> {
        for board in &mut self.boards {
            let pack = board.pack(&mut self.dice);
            if let Some(Some(port)) = self.lines.get_mut(board.line)
                && board.has_power
            {
                port.send(format!("{pack}\n").as_bytes(), Duration::ZERO)?;
            }
        }
        Ok(())
    }
}

impl Board {
    fn pack(&mut self, dice: &mut Dice) -> serde_json::Value {
        let mut about =
            |value: f64, sd: f64, steps: f64| ((value + sd * dice.normal()) * steps).round() / steps;
        let (temperature_c, humidity_pct) = self.air;
        let echoes = ASSUMED_SPEED_M_S / speed_of_sound_m_s(temperature_c, humidity_pct, 101.325);
        let met_m = if self.rim_turned { WALL_M } else { RIM_MOUNT_M };
        let tip_range_m = about((TIP_MOUNT_M - HEIGHT_M) * echoes, RANGER_NOISE_M, 1000.0);
        let rim_range_m = about(met_m * echoes, RANGER_NOISE_M, 1000.0);
        if !self.rim_repeats {
            self.rim_range_m = rim_range_m;
        }
        json!([
            { "bn": format!("{}/", self.id), "n": "temperature", "u": "Cel", "v": about(temperature_c, 0.05, 100.0) },
            { "n": "humidity", "u": "%RH", "v": about(humidity_pct, 0.3, 10.0) },
            { "n": "tip-range", "u": "m", "v": tip_range_m },
            { "n": "rim-range", "u": "m", "v": self.rim_range_m },
        ])
    }
}
