//! Packets that are too long, cut while they come in.
//!
//! The library ends the connection over a packet above its limit, and a broker that keeps the message sends it again at the next.
//! A packet that is cut on its way is read, found to be too long, acknowledged, and gone; its rest is never held in memory.

use bytes::{BufMut, BytesMut};

/// The length of a packet is written in so many bytes at most (MQTT 3.1.1, section 2.2.3).
const LENGTH_BYTES: usize = 4;

/// Where in the stream of packets it is.
#[derive(Debug)]
enum At {
    /// In the head of a packet: its first byte, and its length as far as it has come.
    Head(Vec<u8>),
    /// In its body: so many bytes of it are passed on yet, and then so many left out.
    Body { pass: usize, leave_out: usize },
    /// Behind a length that is none: what follows is passed on as it is, and refused by the library.
    Lost,
}

/// Passes a stream of packets on, each cut to a longest length.
#[derive(Debug)]
pub(super) struct Cut {
    longest: usize,
    at: At,
}

impl Cut {
    /// What follows the head of a packet is passed on up to `longest` bytes.
    pub(super) const fn to(longest: usize) -> Self {
        Self { longest, at: At::Head(Vec::new()) }
    }

    /// Passes on what has come; whatever is left of a packet comes later.
    pub(super) fn pass_on(&mut self, mut bytes: &[u8], to: &mut BytesMut) {
        while !bytes.is_empty() {
            match &mut self.at {
                At::Head(head) => {
                    let (first, rest) = bytes.split_at(1);
                    head.extend_from_slice(first);
                    bytes = rest;
                    self.end_of_head(to);
                }
                At::Body { pass, leave_out } => {
                    let (passed, rest) = bytes.split_at((*pass).min(bytes.len()));
                    to.extend_from_slice(passed);
                    *pass -= passed.len();
                    let left_out = (*leave_out).min(rest.len());
                    *leave_out -= left_out;
                    bytes = rest.get(left_out..).unwrap_or_default();
                    if *pass == 0 && *leave_out == 0 {
                        self.at = At::Head(Vec::new());
                    }
                }
                At::Lost => {
                    to.extend_from_slice(bytes);
                    return;
                }
            }
        }
    }

    /// Passes a head on, with the length of what will follow it, once it is whole.
    fn end_of_head(&mut self, to: &mut BytesMut) {
        let At::Head(head) = &self.at else { return };
        let Some((first, length)) = head.split_first() else { return };
        match length.last() {
            None => {}
            Some(byte) if byte & 0x80 == 0 => {
                let shifted =
                    length.iter().zip(0..).map(|(byte, place)| usize::from(byte & 0x7F) << (7 * place));
                let length: usize = shifted.sum();
                let pass = length.min(self.longest);
                to.put_u8(*first);
                write_length(pass, to);
                self.at = match length {
                    0 => At::Head(Vec::new()),
                    _ => At::Body { pass, leave_out: length - pass },
                };
            }
            Some(_) if length.len() == LENGTH_BYTES => {
                to.extend_from_slice(head);
                self.at = At::Lost;
            }
            Some(_) => {}
        }
    }
}

/// As MQTT 3.1.1 writes it (section 2.2.3): seven bits a byte, the lowest first.
fn write_length(mut length: usize, to: &mut BytesMut) {
    loop {
        let low = (length & 0x7F) as u8;
        length >>= 7;
        if length == 0 {
            return to.put_u8(low);
        }
        to.put_u8(low | 0x80);
    }
}

#[cfg(test)]
mod tests {
    use rumqttc::{Packet, PubAck, Publish, QoS};

    use super::*;

    const LONGEST: usize = 300;

    fn written(packets: &[Packet]) -> Vec<u8> {
        let mut bytes = BytesMut::new();
        for packet in packets {
            packet.write(&mut bytes, usize::MAX).unwrap();
        }
        bytes.to_vec()
    }

    fn publish(bytes: usize, packet: u16) -> Packet {
        let topic = "anthesis/saltmarsh/east-3/sign";
        Packet::Publish(Publish { pkid: packet, ..Publish::new(topic, QoS::AtLeastOnce, vec![b'x'; bytes]) })
    }

    fn read(bytes: &mut BytesMut) -> Vec<Packet> {
        std::iter::from_fn(|| Packet::read(bytes, LONGEST).ok()).collect()
    }

    /// The limits of each length of the length: MQTT 3.1.1 (OASIS standard, 2014), table 2.4.
    #[test]
    fn a_length_is_written_as_the_standard_says() {
        for (length, bytes) in [
            (0, &[0x00][..]),
            (127, &[0x7F]),
            (128, &[0x80, 0x01]),
            (16_383, &[0xFF, 0x7F]),
            (16_384, &[0x80, 0x80, 0x01]),
            (2_097_151, &[0xFF, 0xFF, 0x7F]),
            (2_097_152, &[0x80, 0x80, 0x80, 0x01]),
            (268_435_455, &[0xFF, 0xFF, 0xFF, 0x7F]),
        ] {
            let mut written = BytesMut::new();
            write_length(length, &mut written);
            assert_eq!(&written[..], bytes, "{length}");
        }
    }

    #[test]
    fn a_packet_that_is_too_long_is_cut_and_those_around_it_are_whole_wherever_the_stream_is_torn() {
        let packets = [
            publish(3, 1),
            Packet::PingResp,
            publish(40_000, 2),
            Packet::PubAck(PubAck::new(9)),
            publish(0, 3),
        ];
        let stream = written(&packets);
        for piece in [1, 2, 3, 7, 100, 4096, stream.len()] {
            let (mut cut, mut passed) = (Cut::to(LONGEST), BytesMut::new());
            stream.chunks(piece).for_each(|bytes| cut.pass_on(bytes, &mut passed));
            assert!(passed.len() < 2 * LONGEST, "the rest of it is held nowhere");
            let read = read(&mut passed);
            let Packet::Publish(long) = &read[2] else { panic!("{read:?}") };
            assert_eq!((long.pkid, long.topic.as_str()), (2, "anthesis/saltmarsh/east-3/sign"));
            assert!(long.payload.len() > 200 && long.payload.len() < 300, "{}", long.payload.len());
            let around: Vec<_> = [0, 1, 3, 4].map(|place| read[place].clone()).into();
            let whole: Vec<_> = [0, 1, 3, 4].map(|place| packets[place].clone()).into();
            assert_eq!(around, whole);
            assert!(passed.is_empty());
        }
    }

    #[test]
    fn a_length_that_is_none_is_passed_on_to_be_refused() {
        let (mut cut, mut passed) = (Cut::to(LONGEST), BytesMut::new());
        cut.pass_on(&[0x30, 0xFF, 0xFF, 0xFF, 0xFF, 0x01, 0x02], &mut passed);
        assert_eq!(&passed[..], [0x30, 0xFF, 0xFF, 0xFF, 0xFF, 0x01, 0x02]);
        assert!(Packet::read(&mut passed, LONGEST).is_err());
    }
}
