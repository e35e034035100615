//! One connection's bytes: packets in, packets out, signs of life.
//!
//! The packets are the library's. Its own loop is not used, for it acknowledges before anything is written down, and ends the
//! connection over one message that is too long.

mod cut;

use std::sync::Arc;
use std::time::Duration;

use bytes::{Bytes, BytesMut};
use rumqttc::mqttbytes::{self, v4::Connect, v4::Login};
use rumqttc::{
    ConnAck, ConnectReturnCode, ConnectionError, LastWill, Packet, PubAck, Publish, QoS, StateError,
    Subscribe, SubscribeFilter, TlsError,
};
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt, ReadHalf, WriteHalf};
use tokio::net::TcpStream;
use tokio::time::Instant;
use tokio_rustls::TlsConnector;
use tokio_rustls::rustls::ClientConfig;
use tokio_rustls::rustls::pki_types::ServerName;

use cut::Cut;

/// The longest payload that is taken in, in bytes; a longer one is refused by itself.
pub(super) const MAX_INCOMING_PAYLOAD: usize = 64 * 1024;
/// What follows the head of a packet is read up to here, bytes: the longest topic, a packet's number, and one byte more of payload than
/// is taken, so that it is known to be too long.
const LONGEST_BODY: usize = 2 + 65_535 + 2 + MAX_INCOMING_PAYLOAD + 1;
/// Room for the topic and the fixed part of a packet.
const HEADER: usize = 70_000;
/// Bytes read at once.
const PIECE_BYTES: usize = 16 * 1024;
/// The broker is asked for a sign of life this often.
pub(super) const KEEP_ALIVE: Duration = Duration::from_secs(30);

trait Stream: AsyncRead + AsyncWrite + Send + Unpin {}
impl<T: AsyncRead + AsyncWrite + Send + Unpin> Stream for T {}

/// Where to, and who calls.
#[derive(Debug)]
pub(super) struct Call<'a> {
    pub(super) host: &'a str,
    pub(super) port: u16,
    pub(super) tls: Option<Arc<ClientConfig>>,
    pub(super) client_id: &'a str,
    pub(super) login: Option<(String, String)>,
    pub(super) will: Option<LastWill>,
    /// Whether the broker is to keep what it cannot hand over, for the next connection of this id.
    pub(super) keep_session: bool,
    /// For all of it together, and for each write after it.
    pub(super) patience: Duration,
    /// The longest payload that is sent, in bytes.
    pub(super) longest: usize,
}

/// A connection to a broker that let us in.
pub(super) struct Wire {
    reader: ReadHalf<Box<dyn Stream>>,
    writer: WriteHalf<Box<dyn Stream>>,
    piece: Box<[u8]>,
    cut: Cut,
    incoming: BytesMut,
    outgoing: BytesMut,
    unflushed: bool,
    longest: usize,
    patience: Duration,
    last_packet: u16,
    /// Since when bytes have waited to be written.
    writing: Option<Instant>,
    last_read: Instant,
    last_written: Instant,
    asked: Option<Instant>,
}

impl Wire {
    /// Connects and logs in.
    ///
    /// # Errors
    /// When there is no broker, it does not let us in, or it does not answer in time.
    pub(super) async fn connect(call: Call<'_>) -> Result<(Self, ConnAck), ConnectionError> {
        let patience = call.patience;
        match tokio::time::timeout(patience, Self::try_connect(call)).await {
            Ok(outcome) => outcome,
            Err(_) => Err(ConnectionError::NetworkTimeout),
        }
    }

    async fn try_connect(call: Call<'_>) -> Result<(Self, ConnAck), ConnectionError> {
        let Call { host, port, tls, client_id, login, will, keep_session, patience, longest } = call;
        let plain = TcpStream::connect((host, port)).await?;
        plain.set_nodelay(true)?;
        let stream: Box<dyn Stream> = match tls {
            None => Box::new(plain),
            Some(config) => {
                let name = ServerName::try_from(host.to_owned()).map_err(TlsError::from)?;
                let secured = TlsConnector::from(config).connect(name, plain).await;
                Box::new(secured.map_err(TlsError::from)?)
            }
        };
        let (reader, writer) = tokio::io::split(stream);
        let now = Instant::now();
        let mut wire = Self {
            reader,
            writer,
            piece: vec![0; PIECE_BYTES].into_boxed_slice(),
            cut: Cut::to(LONGEST_BODY),
            incoming: BytesMut::new(),
            outgoing: BytesMut::new(),
            unflushed: false,
            longest,
            patience,
            last_packet: 0,
            writing: None,
            last_read: now,
            last_written: now,
            asked: None,
        };
        let mut connect = Connect::new(client_id);
        connect.keep_alive = u16::try_from(KEEP_ALIVE.as_secs()).unwrap_or(u16::MAX);
        connect.clean_session = !keep_session;
        connect.last_will = will;
        connect.login = login.map(|(username, password)| Login { username, password });
        wire.send(&Packet::Connect(connect))?;
        match wire.next().await? {
            Packet::ConnAck(answer) if answer.code == ConnectReturnCode::Success => Ok((wire, answer)),
            Packet::ConnAck(answer) => Err(ConnectionError::ConnectionRefused(answer.code)),
            other => Err(ConnectionError::NotConnAck(other)),
        }
    }

    /// The next packet; signs of life are given and asked for meanwhile, and what is to be sent is written. Dropped half-way it
    /// loses nothing.
    ///
    /// # Errors
    /// When the connection has broken.
    pub(super) async fn next(&mut self) -> Result<Packet, ConnectionError> {
        loop {
            match Packet::read(&mut self.incoming, LONGEST_BODY) {
                Ok(Packet::PingResp) => continue,
                Ok(packet) => return Ok(packet),
                Err(mqttbytes::Error::InsufficientBytes(_)) => {}
                Err(error) => return Err(StateError::Deserialization(error).into()),
            }
            if self.writing.is_some_and(|since| since.elapsed() >= self.patience) {
                return Err(ConnectionError::FlushTimeout);
            }
            let wake = self.keep_alive()?;
            let Self { reader, writer, piece, outgoing, unflushed, .. } = self;
            let write = async {
                if !outgoing.is_empty() {
                    writer.write_buf(outgoing).await.map(|_| true)
                } else if *unflushed {
                    writer.flush().await.map(|()| false)
                } else {
                    std::future::pending().await
                }
            };
            tokio::select! {
                read = reader.read(piece) => match read.map_err(StateError::Io)? {
                    0 => return Err(StateError::ConnectionAborted.into()),
                    length => {
                        self.last_read = Instant::now();
                        self.asked = None;
                        let bytes = self.piece.get(..length).unwrap_or_default();
                        self.cut.pass_on(bytes, &mut self.incoming);
                    }
                },
                unflushed = write => {
                    self.unflushed = unflushed.map_err(StateError::Io)?;
                    let done = self.outgoing.is_empty() && !self.unflushed;
                    self.writing = (!done).then(Instant::now);
                    self.last_written = Instant::now();
                }
                () = tokio::time::sleep_until(wake) => {}
            }
        }
    }

    /// Asks for a sign of life when it is time, and gives up a broker that gives none. Says when to look again.
    fn keep_alive(&mut self) -> Result<Instant, StateError> {
        let now = Instant::now();
        if self.asked.is_some_and(|asked| now >= asked + KEEP_ALIVE) {
            return Err(StateError::AwaitPingResp);
        }
        // who only hears, or only speaks, must ask, too
        let quiet_since = self.last_read.min(self.last_written);
        if self.asked.is_none() && now >= quiet_since + KEEP_ALIVE {
            self.asked = Some(now);
            self.send(&Packet::PingReq)?;
        }
        let look = self.asked.map_or(quiet_since + KEEP_ALIVE, |asked| asked + KEEP_ALIVE);
        Ok(self.writing.map_or(look, |since| look.min(since + self.patience)))
    }

    /// When the broker was last heard.
    pub(super) const fn last_read(&self) -> Instant {
        self.last_read
    }

    /// Hands over a message; gives its packet's number, 0 where no acknowledgement is asked for.
    ///
    /// # Errors
    /// When it can never be sent.
    pub(super) fn publish(
        &mut self,
        topic: String,
        payload: String,
        qos: QoS,
        retain: bool,
    ) -> Result<u16, StateError> {
        let pkid = if qos == QoS::AtMostOnce { 0 } else { self.next_packet() };
        let payload = Bytes::from(payload.into_bytes());
        self.send(&Packet::Publish(Publish { pkid, retain, ..Publish::from_bytes(topic, qos, payload) }))?;
        Ok(pkid)
    }

    /// Asks for messages.
    ///
    /// # Errors
    /// When it can never be sent.
    pub(super) fn subscribe<'a>(
        &mut self,
        topics: impl IntoIterator<Item = &'a String>,
    ) -> Result<u16, StateError> {
        let filters = topics.into_iter().map(|topic| SubscribeFilter::new(topic.clone(), QoS::AtLeastOnce));
        let pkid = self.next_packet();
        self.send(&Packet::Subscribe(Subscribe { pkid, ..Subscribe::new_many(filters) }))?;
        Ok(pkid)
    }

    /// Acknowledges a message of that number.
    ///
    /// # Errors
    /// Never, by its length.
    pub(super) fn acknowledge(&mut self, packet: u16) -> Result<(), StateError> {
        self.send(&Packet::PubAck(PubAck::new(packet)))
    }

    /// Takes leave, writes what waits, and ends the connection.
    pub(super) async fn leave(mut self) {
        let patience = self.patience;
        let left = async {
            self.send(&Packet::Disconnect).ok()?;
            self.writer.write_all_buf(&mut self.outgoing).await.ok()?;
            self.writer.shutdown().await.ok()
        };
        let _ = tokio::time::timeout(patience, left).await;
    }

    fn send(&mut self, packet: &Packet) -> Result<(), StateError> {
        packet.write(&mut self.outgoing, self.longest + HEADER).map_err(StateError::Deserialization)?;
        self.writing.get_or_insert_with(Instant::now);
        Ok(())
    }

    /// Numbers from 1, for 0 is none.
    const fn next_packet(&mut self) -> u16 {
        self.last_packet = if self.last_packet == u16::MAX { 1 } else { self.last_packet + 1 };
        self.last_packet
    }
}
