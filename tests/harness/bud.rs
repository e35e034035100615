//! A plain bench for checks: what the rangers report of a given height and a given rim advance, in still air.
//!
//! Written apart from the simulator, with a speed of sound from an outside table, so that ranger and model share no code.

use std::fmt::Write as _;

/// Still air of the check, °C.
pub const AIR_C: f64 = 25.0;
/// Its humidity, %.
pub const AIR_PCT: f64 = 80.0;
/// Speed of sound in that air, m/s: CoolProp 8.0.0 HAPropsSI at 101.325 kPa, column c_coolprop_humidair of
/// tests/reference/sound_speed_grid.csv.
pub const AIR_SOUND_M_S: f64 = 347.609625;

/// Writes readings of one bench as a recording.
#[derive(Debug, Clone)]
pub struct Recorder {
    bench: String,
    /// The recording so far.
    pub text: String,
    /// Distance from the side ranger to the closed rim, m.
    pub rim_mount_m: f64,
    noise: u64,
}

impl Recorder {
    /// A recording of the bench of that id.
    pub fn new(bench: &str) -> Self {
        Self { bench: bench.to_owned(), text: String::new(), rim_mount_m: 0.95, noise: 0x9e37_79b9_7f4a_7c15 }
    }

    /// Approximately normal noise of standard deviation one: the sum of twelve uniform numbers less six.
    pub fn noise(&mut self) -> f64 {
        (0..12)
            .map(|_| {
                // xorshift64 (Marsaglia 2003)
                self.noise ^= self.noise << 13;
                self.noise ^= self.noise >> 7;
                self.noise ^= self.noise << 17;
                (self.noise >> 11) as f64 / (1_u64 << 53) as f64
            })
            .sum::<f64>()
            - 6.0
    }

    /// One pack: the air, and the two rangers over a plant of that height and rim advance, with noise of `sd_m`.
    pub fn pack(&mut self, unix_s: i64, height_m: Option<f64>, rim_m: Option<f64>, sd_m: f64) {
        let reported = 343.2 / AIR_SOUND_M_S;
        let _ = write!(
            self.text,
            r#"[{{"bn":"{}/","bt":{unix_s},"n":"temperature","u":"Cel","v":{AIR_C}}},{{"n":"humidity","u":"%RH","v":{AIR_PCT}}}"#,
            self.bench
        );
        for (name, mount_m, position) in
            [("tip-range", 3.1, height_m), ("rim-range", self.rim_mount_m, rim_m)]
        {
            if let Some(position) = position {
                let range = (mount_m - position + sd_m * self.noise()) * reported;
                let _ = write!(self.text, r#",{{"n":"{name}","u":"m","v":{range:.4}}}"#);
            }
        }
        self.text.push_str("]\n");
    }
}
