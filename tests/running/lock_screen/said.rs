//! An event of each kind and of each way in which it is told.

use std::sync::Arc;

use bloom_model::climate::Beyond;
use bloom_model::event::{
    Answer, AnswerDetails, BudSeenDetails, ClimateDetails, ClockTrouble, Details, Doubt, EdgeDetails, Event,
    EventKind, FullOpenDetails, FullOpenTimes, FullyOpen, GivenUp, GrowsAgain, GrowthFigures, HasClosed,
    HeatDetails, Lost, MorningDetails, NotOpening, OpenHours, OpeningDetails, OpeningMoment, RecordFault,
    Revision, SensorDetails, Severity, SignDetails, SiteTrouble, SlowingDetails, SlowingOverDetails, ToldBy,
    Unwatched, WhyNothing, Window,
};
use bloom_model::forecast::{OpeningDates, Outlook};
use bloom_model::heat::{HeatLevel, HottestAir};
use bloom_model::quantity::{Quantity, Variable};
use bloom_model::seeing::Cause;
use bloom_model::sign::{PlainSign, Sign};
use bloom_model::time::Time;
use chrono::{NaiveDate, TimeDelta};

/// Local hours after the midnight before Wednesday 2 June 2027.
fn at(hours: f64) -> Time {
    Time::from_unix_ms(1_811_905_200_000).plus_hours(hours)
}

/// An event of east-3, or of the site itself, at half past three in the afternoon.
fn event(kind: EventKind, severity: Severity, bench: bool, details: Details) -> Event {
    Event {
        id: format!("east-3-2027a/{}/1", kind.name()),
        time: at(15.5),
        site: Arc::from("saltmarsh"),
        bench: bench.then(|| Arc::from("east-3")),
        plant: bench.then(|| Arc::from("AT-0412")),
        bloom: None,
        kind,
        severity,
        details,
        ends: Vec::new(),
        stands_until: None,
    }
}

fn hours(now: f64) -> OpenHours {
    let window = |from, until| Window { from: at(from), until: at(until) };
    let best = (now < 26.0).then(|| window(now.max(18.0), 26.0));
    OpenHours { receptive: window(17.0, 32.0), best, collect: window(36.0, 74.0) }
}

/// A bloom that cracked at two in the afternoon, as its alarm has it at an hour.
fn opening(now: f64, told_by: ToldBy, found_open: bool, full: bool, pollinated: bool) -> Details {
    let full_open = FullOpenTimes { earliest: at(19.0), likely: at(22.0), latest: at(30.0) };
    Details::Opening(OpeningDetails {
        told_by,
        advance_cm: Some(4.7),
        rate_cm_hour: Some(5.0),
        baseline_cm_hour: Some(0.1),
        spadix_above_air_k: (told_by == ToldBy::Spadix).then_some(4.2),
        began: at(14.0),
        found_open,
        full_open,
        full_since: full.then(|| at(21.0)),
        receptive: hours(now).receptive,
        moment: OpeningMoment {
            now: at(now),
            advance_m: 0.047,
            rate_m_h: 0.05,
            seen: told_by == ToldBy::Rim,
            full_open: Some(full_open),
            hours: hours(now),
            pollinated,
            collected: false,
            takes_the_place: false,
        },
    })
}

fn openings() -> Vec<Details> {
    vec![
        opening(15.5, ToldBy::Rim, false, false, false),
        opening(15.5, ToldBy::Spadix, false, false, false),
        opening(15.5, ToldBy::Sign, false, false, false),
        opening(20.0, ToldBy::Rim, true, false, false),
        opening(34.0, ToldBy::Rim, true, false, false),
        opening(23.0, ToldBy::Rim, false, true, false),
        opening(23.0, ToldBy::Rim, false, true, true),
        opening(38.0, ToldBy::Rim, false, true, true),
        opening(100.0, ToldBy::Rim, false, true, true),
    ]
}

fn outlook(never: f64) -> Option<Outlook> {
    let date = |day| NaiveDate::from_ymd_opt(2027, 6, day).expect("a date");
    let opens = OpeningDates { earliest: date(3), likely: date(4), latest: date(6) };
    Some(Outlook { opens, probability_tonight: 0.163, probability_never: never, height_at_opening_m: None })
}

fn climate(of: Variable, below: bool, value: f64, limit: f64) -> Details {
    let beyond = Beyond { of, below, value, limit, since: at(15.0) };
    let unit = "in the payload only";
    Details::Climate(ClimateDetails {
        of: of.name(),
        value,
        unit,
        limit,
        since: at(15.0),
        beyond,
        still: None,
    })
}

fn climates() -> Vec<Details> {
    let measured = Variable::Measured;
    vec![
        climate(measured(Quantity::Temperature), true, 12.0, 15.0),
        climate(measured(Quantity::Temperature), false, 43.0, 42.0),
        climate(measured(Quantity::Humidity), true, 30.0, 40.0),
        climate(measured(Quantity::Humidity), false, 99.0, 98.0),
        climate(Variable::DEFICIT, false, 3.2, 2.5),
        climate(measured(Quantity::Co2), true, 180.0, 250.0),
        climate(measured(Quantity::Co2), false, 6000.0, 5000.0),
        climate(measured(Quantity::Light), false, 1600.0, 1200.0),
        climate(measured(Quantity::SoilTemperature), true, 14.0, 16.0),
        climate(measured(Quantity::SoilTemperature), false, 34.0, 32.0),
    ]
}

fn heat(level: HeatLevel) -> Details {
    let air = HottestAir {
        level,
        heat_index_c: 52.3,
        above_scale: false,
        bench: Arc::from("east-1"),
        temperature_c: 38.1,
        humidity_pct: 60.0,
    };
    Details::Heat(HeatDetails {
        level: None,
        hottest_bench: Arc::clone(&air.bench),
        heat_index_c: air.heat_index_c,
        above_scale: false,
        temperature_c: air.temperature_c,
        humidity_pct: air.humidity_pct,
        limit_c: 51.7,
        air,
    })
}

fn sensor(quantities: &[Quantity], unwatched: Option<Unwatched>) -> Details {
    let quantities = quantities.to_vec();
    Details::Sensor(SensorDetails { quantities, since: at(15.0), value: None, all: false, unwatched })
}

fn edge(cause: Cause, unwatched: Option<Unwatched>) -> Details {
    Details::Edge(EdgeDetails {
        why: cause.name(),
        since: at(10.0),
        value: None,
        impossible_pct: None,
        moved_cm: None,
        interval_min: None,
        noise_mm: 0.7,
        chance_today: None,
        cause,
        unwatched,
        waited_for: true,
    })
}

fn trouble(trouble: SiteTrouble) -> Event {
    let kind = trouble.kind();
    let unwatched = matches!(&trouble, SiteTrouble::LineDead { unwatched, .. } if !unwatched.is_empty());
    let severity = if unwatched { Severity::Alarm } else { Severity::Warning };
    let what = match kind {
        EventKind::IntakeDown | EventKind::IntakeDownOver => "/dev/serial/by-id/usb-1",
        _ => "/var/lib/anthesisd/anthesisd.db",
    };
    event(kind, severity, false, Details::Trouble { what: what.to_owned(), since: at(9.0), trouble })
}

fn answer(answer: Answer, by: Option<&str>, coming: Option<f64>) -> Details {
    let alarms = vec!["east-3-2027a/opening-tonight/1".to_owned()];
    let (by, coming) = (by.map(str::to_owned), coming.map(at));
    let comes_back = by.is_none().then(|| at(16.0));
    Details::Answer(AnswerDetails { alarms, by, coming, comes_back, answer, too_many: None })
}

/// All that is an alarm.
pub(super) fn alarms() -> Vec<Event> {
    use EventKind as Kind;
    let of_bench = |kind, details| event(kind, Severity::Alarm, true, details);
    let mut all: Vec<Event> =
        openings().into_iter().map(|details| of_bench(Kind::OpeningTonight, details)).collect();
    let window = |from, until| Window { from: at(from), until: at(until) };
    all.push(of_bench(Kind::ReceptiveEnding, Details::ReceptiveEnding { receptive: window(17.0, 32.0) }));
    let pollen = Details::Collect { collect: window(15.0, 74.0), likely: at(43.0) };
    all.push(of_bench(Kind::PollenShed, pollen));
    all.extend(climates().into_iter().map(|details| of_bench(Kind::Climate, details)));
    all.push(event(Kind::Heat, Severity::Alarm, false, heat(HeatLevel::ExtremeDanger)));
    for unwatched in [Unwatched::Bud, Unwatched::Bloom] {
        all.push(of_bench(Kind::SensorSilent, sensor(&[Quantity::RimRange], Some(unwatched))));
    }
    all.push(of_bench(Kind::SensorStuck, sensor(&[Quantity::RimRange], Some(Unwatched::Bud))));
    all.push(of_bench(Kind::EdgeNotSeen, edge(Cause::Jumped(0.15), Some(Unwatched::Bud))));
    let benches: Vec<Arc<str>> = ["east-3", "east-4"].map(Arc::from).into();
    let why = Some("the device is gone: check cable and adapter".to_owned());
    all.push(trouble(SiteTrouble::LineDead { why, unwatched: benches.clone(), not_read: benches }));
    all.push(of_bench(Kind::Test, Details::Test {}));
    all.push(event(Kind::Test, Severity::Alarm, false, Details::Test {}));
    all
}

fn troubles() -> Vec<SiteTrouble> {
    let fault = RecordFault::DiskFull;
    let doubts =
        [ClockTrouble::NotSet, ClockTrouble::Stepped(TimeDelta::minutes(-60)), ClockTrouble::NotSynchronised];
    let clocks = doubts.map(|doubt| SiteTrouble::ClockWrong { doubt, claimed: Some(at(9.0)) });
    let others = [
        SiteTrouble::LineDead { why: None, unwatched: vec![], not_read: vec![Arc::from("east-3")] },
        SiteTrouble::LineWorks { read: vec![Arc::from("east-3")] },
        SiteTrouble::ClockRight,
        SiteTrouble::NotRecorded { fault, in_full: "the disk is full".to_owned() },
        SiteTrouble::RecordedAgain(Lost::default()),
        SiteTrouble::NotSound(vec!["page 3".to_owned()]),
        SiteTrouble::SoundAgain,
        SiteTrouble::RecordGone { written: None, saved: None },
        SiteTrouble::RecordOlder { written: None },
        SiteTrouble::RecordTakenAway,
        SiteTrouble::RecordInPlace { saved: None },
        SiteTrouble::NoCopies { why: "http://127.0.0.1:8086 answered 503".to_owned() },
        SiteTrouble::AllCopied,
    ];
    clocks.into_iter().chain(others).collect()
}

/// All that is a warning.
pub(super) fn warnings() -> Vec<Event> {
    use EventKind as Kind;
    let of_bench = |kind, details| event(kind, Severity::Warning, true, details);
    let mut all: Vec<Event> =
        climates().into_iter().map(|details| of_bench(Kind::Climate, details)).collect();
    all.push(of_bench(
        Kind::ClimateOver,
        climate(Variable::Measured(Quantity::Temperature), true, 18.4, 18.0),
    ));
    all.push(event(Kind::Heat, Severity::Warning, false, heat(HeatLevel::Danger)));
    all.push(event(Kind::HeatOver, Severity::Warning, false, heat(HeatLevel::Bearable)));
    all.push(of_bench(Kind::SensorSilent, sensor(&[Quantity::TipRange], None)));
    all.push(of_bench(Kind::SensorStuck, sensor(&[Quantity::Temperature], None)));
    all.push(of_bench(Kind::SensorBack, sensor(&[Quantity::RimRange], None)));
    for cause in [
        Cause::Impossible(0.34),
        Cause::Jumped(-0.15),
        Cause::Restless,
        Cause::FarApart(2400.0),
        Cause::Still(0.0),
    ] {
        all.push(of_bench(Kind::EdgeNotSeen, edge(cause, None)));
    }
    all.push(of_bench(Kind::EdgeNotSeenOver, edge(Cause::Restless, None)));
    all.extend(troubles().into_iter().map(trouble));
    all
}

/// All that is a notice.
pub(super) fn notices() -> Vec<Event> {
    use EventKind as Kind;
    let names = || vec!["OPENING NOW".to_owned()];
    let growth = GrowthFigures { height_m: Some(1.82), growth_cm_day: Some(3.0), ..GrowthFigures::default() };
    let morning = |never| Details::Morning(MorningDetails { growth, heat: None, outlook: outlook(never) });
    let seen = |taken_up| {
        let (height_m, growth_cm_day) = (Some(0.13), Some(1.7));
        Details::BudSeen(BudSeenDetails {
            height_m,
            growth_cm_day,
            told_by: "tip-range",
            taken_up,
            outlook: None,
        })
    };
    let slowing = |never| {
        Details::Slowing(SlowingDetails { growth_cm_day: 4.6, peak_cm_day: 9.7, outlook: outlook(never) })
    };
    let grows = |why| {
        Details::SlowingOver(SlowingOverDetails { why, growth_cm_day: Some(9.0), outlook: outlook(0.05) })
    };
    let full_open = FullOpenTimes { earliest: at(19.0), likely: at(22.0), latest: at(30.0) };
    let full = |by| {
        let (receptive, hours) = (hours(22.0).receptive, hours(22.0));
        Details::FullOpen(FullOpenDetails { receptive, by, began: at(14.0), pollinated: false, hours })
    };
    let sign = |sign| Details::Sign(SignDetails { sign, outlook: None, too_many: None });
    let opened = Sign::Plain(PlainSign::Opened);
    let taken = |unread: &[&str]| {
        let unread = unread.iter().map(|name| (*name).to_owned()).collect();
        Answer::Taken { of: names(), unread }
    };
    let nothing = |why| answer(Answer::Nothing(why), Some("Robin"), None);
    let no_time = |why| answer(Answer::Nothing(why), Some("Robin"), Some(26.0));
    let elsewhere = vec![Arc::from("west-1")];
    let details = [
        (Kind::BudSeen, vec![seen(false), seen(true)]),
        (Kind::Morning, vec![morning(0.05), morning(0.95)]),
        (Kind::Slowing, vec![slowing(0.05), slowing(0.95)]),
        (Kind::SlowingOver, vec![grows(GrowsAgain::Recovered), grows(GrowsAgain::TapeTakenBack)]),
        (Kind::StoodDown, vec![Details::StoodDown { why: NotOpening::HeardClosed }]),
        (Kind::Look, vec![Details::Look { doubt: Doubt::EdgeLost }]),
        (Kind::FullOpenRevised, vec![Details::FullOpenRevised { full_open, revision: Revision::Sooner }]),
        (Kind::FullOpen, vec![full(FullyOpen::AtRest), full(FullyOpen::ByTheClock)]),
        (
            Kind::Closed,
            vec![
                Details::Closed { by: HasClosed::HalfWayBack, after_h: None },
                Details::Closed { by: HasClosed::ByTheClock, after_h: Some(48.0) },
            ],
        ),
        (Kind::Aborted, vec![Details::GivenUp { why: GivenUp::NoGrowth(14.0) }]),
        (Kind::FruitRipe, vec![Details::FruitRipe {}]),
        (Kind::Spent, vec![Details::Spent {}]),
        (
            Kind::SignBooked,
            vec![
                sign(opened),
                sign(Sign::Withdrawn(PlainSign::Opened)),
                Details::UndatedSign { sign: opened, sent_from: None, sent_until: at(15.0) },
            ],
        ),
        (
            Kind::Acknowledged,
            vec![
                answer(taken(&[]), Some("Robin"), None),
                answer(taken(&["POLLEN"]), None, None),
                answer(taken(&[]), Some("Robin"), Some(17.0)),
                nothing(WhyNothing::NoneStands { elsewhere }),
                nothing(WhyNothing::JustTold(names())),
                nothing(WhyNothing::SentBefore(names())),
                no_time(WhyNothing::NoneStands { elsewhere: vec![] }),
                no_time(WhyNothing::SentBefore(names())),
                no_time(WhyNothing::TooFarAhead { latest: at(17.5) }),
            ],
        ),
    ];
    let of_kind = |(kind, details): (Kind, Vec<Details>)| {
        details.into_iter().map(move |details| event(kind, Severity::Notice, true, details))
    };
    details.into_iter().flat_map(of_kind).collect()
}
