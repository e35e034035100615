//! What people publish to the broker.

use anthesisd::notify::incoming::{Request, read};
use anthesisd::notify::topics::Topics;
use bloom_model::time::Time;
use chrono::TimeDelta;
use serde_json::json;

use super::{NOW, within};

/// The most that reading a message may take, bytes a byte of it and besides.
const BYTES_A_BYTE: usize = 16;
const BYTES_BESIDES: usize = 64 << 10;

/// The first byte chooses the topic; what is taken is taken again as it is written.
pub(super) fn incoming(input: &[u8]) {
    let Some((choice, payload)) = input.split_first() else { return };
    let topics = Topics::new("anthesis", "saltmarsh");
    let (topic, payload) = match choice % 4 {
        0 => ("anthesis/saltmarsh/acknowledge", payload),
        1 => ("anthesis/saltmarsh/east-3/acknowledge", payload),
        2 => ("anthesis/saltmarsh/east-3/sign", payload),
        _ => match payload.split(|byte| *byte == b'\n').next().map(std::str::from_utf8) {
            Some(Ok(topic)) => (topic, payload.get(topic.len()..).unwrap_or_default()),
            _ => return,
        },
    };
    let most = BYTES_BESIDES + BYTES_A_BYTE * input.len();
    let retained = *choice >= 128;
    let Ok(request) = within(most, "a message", || read(&topics, topic, payload, retained, NOW)) else {
        return;
    };
    assert!(!retained, "a retained message would come again at every connection");
    let again = read(&topics, topic, written(&request).as_bytes(), false, NOW);
    assert_eq!(again.as_ref(), Ok(&request));
    if let Request::Sign { time: Some(time), .. } = request {
        assert!(time >= Time::from_unix_ms(0) && time - NOW <= TimeDelta::minutes(10));
    }
}

fn written(request: &Request) -> String {
    match request {
        Request::Acknowledge { id, by, .. } => json!({"id": id, "by": by}).to_string(),
        Request::AcknowledgeRead { .. } => "ok".to_owned(),
        Request::Coming { clock, by, .. } => {
            json!({"coming": clock.format("%H:%M").to_string(), "by": by}).to_string()
        }
        Request::Sign { sign, time, note, by, .. } => {
            json!({"sign": sign.to_string(), "time": time, "note": note, "by": by}).to_string()
        }
    }
}
