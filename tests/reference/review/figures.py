#!/usr/bin/env python3
"""Computes the figures of a review from its recording, independently of the project, as the reference of a test.

    cargo run --bin benches -- --seed 1 --tape --signs --recording season.jsonl
    python3 figures.py season.jsonl ../sound_speed_grid.csv bloom > bloom.csv
    python3 figures.py season.jsonl ../sound_speed_grid.csv span > span.csv

with Python 3.11 and, from PyPI, numpy 2.4.6, scipy 1.17.1, pandas 3.1.1, statsmodels 0.15.0 (lines that hold outliers down),
refet 0.5.0 (vapour pressure by FAO-56), PsychroLib 2.5.0 (ASHRAE Handbook Fundamentals 2017, ch. 1). Local time is that of
Python's zoneinfo. Speed of sound is interpolated in the committed grid of CoolProp 8.0.0.

Columns: table, row and figure as in `anthesisd review --csv`, the unit, the value, and, where moisture is in it, the value by
ASHRAE's formulas in place of FAO-56's. What the events tell (first crack and so on) is given below, not computed.

What differs on purpose from the project's own way: hours come from cumulative integrals that are interpolated at the edges of
each hour, extremes from a grouped table, the dew point from a root finder, degree-days from the antiderivative of the clipped
temperature, lines from statsmodels. Positions are those of the raw recording: nothing is cleaned, for nothing needs to be.
"""
import json
import sys
from datetime import datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import psychrolib
import refet.calcs
import statsmodels.api as sm
from scipy.interpolate import RegularGridInterpolator
from scipy.optimize import newton

ZONE = ZoneInfo("America/Halifax")
# The bench of the test: where its rangers hang, what it is held within, how long a reading counts.
TIP_MOUNT_M, RIM_MOUNT_M, ASSUMED_M_S = 3.1, 0.95, 343.2
LIMITS = {
    "temperature": ((22.5, 24.0), (22.0, 26.0)),
    "humidity": ((72.0, 85.0), (70.0, 99.0)),
    "vapour-pressure deficit": ((0.4, 0.7), None),
    "dew-point spread": ((2.0, np.inf), None),
}
BASE_C, UPPER_C, DEGREE_DAY_GAP_S = 17.0, 35.0, 3 * 3600.0
LONGEST_S = 900.0
# What the test leaves out of the recording: quantities, from, until (UTC).
HOLES = [
    (("temperature", "humidity", "tip-range", "rim-range"), "2027-03-12T03:20:30Z", "2027-03-12T09:10:30Z"),
    (("humidity",), "2027-03-14T03:30:30Z", "2027-03-14T06:40:30Z"),
    (("temperature",), "2027-02-20T18:00:30Z", "2027-02-20T23:30:30Z"),
]
# The span asked for; where it has no beginning the bloom begins at local midnight three days before its bud was seen.
SPANS = {"bloom": (None, "2027-03-16T00:00"), "span": ("2027-03-11T00:00", "2027-03-16T00:00")}


def utc(text):
    return datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()


def local(text):
    return datetime.fromisoformat(text).replace(tzinfo=ZONE).timestamp()


# What the events tell, as the test puts them into the record.
STORY = {
    "bud seen": utc("2027-02-02T13:00:00Z"),
    "first crack": utc("2027-03-13T18:31:00Z"),
    "opening alarm": utc("2027-03-13T20:04:00Z"),
    "fully open": utc("2027-03-14T03:00:00Z"),
    "closed": utc("2027-03-15T11:41:00Z"),
}


def read(path):
    rows = []
    for line in open(path, encoding="utf-8"):
        pack = json.loads(line)
        time = float(pack[0]["bt"])
        for record in pack:
            if "v" in record:
                rows.append((time, record["n"], record["v"]))
    table = pd.DataFrame(rows, columns=["time", "quantity", "value"])
    for quantities, from_, until in HOLES:
        hole = table.quantity.isin(quantities) & (table.time >= utc(from_)) & (table.time < utc(until))
        table = table[~hole]
    return {name: (part.time.to_numpy(), part.value.to_numpy()) for name, part in table.groupby("quantity")}


def edges_of(from_, until):
    """Local full hours; Halifax keeps whole hours from Greenwich."""
    full = np.arange(np.ceil(from_ / 3600.0), np.floor(until / 3600.0) + 1) * 3600.0
    return np.unique(np.concatenate([[from_], full, [until]]))


def air(series):
    """Temperature, humidity, deficit and spread as (time, value) pairs; the last two also by ASHRAE."""
    (t_time, t), (h_time, h) = series["temperature"], series["humidity"]
    every = pd.DataFrame({"time": np.unique(np.concatenate([t_time, h_time]))})
    for name, time, value in [("t", t_time, t), ("h", h_time, h)]:
        part = pd.DataFrame({"time": time, name: value})
        every = pd.merge_asof(every, part, on="time", tolerance=LONGEST_S)
    both = every.dropna()
    t_c, rh = both.t.to_numpy(), both.h.to_numpy()
    saturated = refet.calcs.sat_vapor_pressure(t_c)
    deficit = saturated - saturated * rh / 100.0
    held = saturated * rh / 100.0
    dew = newton(lambda td: refet.calcs.sat_vapor_pressure(td) - held, t_c - 2.0, maxiter=100)
    psychrolib.SetUnitSystem(psychrolib.SI)
    deficit_a = np.array([psychrolib.GetSatVapPres(a) * (1 - b / 100.0) / 1000.0 for a, b in zip(t_c, rh)])
    dew_a = np.array([psychrolib.GetTDewPointFromRelHum(a, b / 100.0) for a, b in zip(t_c, rh)])
    time = both.time.to_numpy()
    return {
        "temperature": (t_time, t, None),
        "humidity": (h_time, h, None),
        "vapour-pressure deficit": (time, deficit, deficit_a),
        "dew-point spread": (time, t_c - dew, t_c - dew_a),
    }


def cumulative(time, weight):
    """The integral of a weight that holds from each reading to the next, if that is near enough, as a function of time."""
    step = np.diff(time)
    counts = step <= LONGEST_S
    total = np.concatenate([[0.0], np.cumsum(np.where(counts, step * weight[:-1], 0.0))])
    return lambda at: np.interp(at, time, total)


def figures_of(time, value, limits, edges):
    """For each step: hours measured, integral, hours below and above, extremes with their times."""
    result = {"measured": np.diff(cumulative(time, np.ones_like(value))(edges)) / 3600.0}
    result["integral"] = np.diff(cumulative(time, value)(edges)) / 3600.0
    for kind, band in zip(["warning", "alarm"], limits):
        if band:
            result[kind, "below"] = np.diff(cumulative(time, (value < band[0]).astype(float))(edges)) / 3600.0
            result[kind, "above"] = np.diff(cumulative(time, (value > band[1]).astype(float))(edges)) / 3600.0
    place = np.searchsorted(edges, time, side="right") - 1
    inside = (place >= 0) & (place < len(edges) - 1)
    table = pd.DataFrame({"step": place[inside], "time": time[inside], "value": value[inside]})
    result["lowest"] = table.loc[table.groupby("step").value.idxmin()].set_index("step")
    result["highest"] = table.loc[table.groupby("step").value.idxmax()].set_index("step")
    return result


def position(series, name, mount_m, sound):
    time, reported = series[name]
    frame = pd.DataFrame({"time": time})
    for quantity in ["temperature", "humidity"]:
        t, v = series[quantity]
        frame = pd.merge_asof(frame, pd.DataFrame({"time": t, quantity: v}), on="time")
    speed = sound(np.column_stack([frame.temperature, frame.humidity]))
    return time, mount_m - reported * speed / ASSUMED_M_S


def line(hours, metres, floor_m=0.0005):
    """Slope per hour by Huber's rule at two standard deviations, and its standard deviation, widened for correlation."""
    if len(hours) < 3:
        return None
    design = sm.add_constant(hours)
    norm = sm.robust.norms.HuberT(t=2.0)
    fit = sm.RLM(metres, design, M=norm).fit(scale_est="mad")
    scale = max(fit.scale, floor_m)
    clipped = np.clip(fit.resid, -2.0 * scale, 2.0 * scale)
    square = float(clipped @ clipped)
    residual = max(np.sqrt(square / (len(hours) - 2)), floor_m)
    plain = float(clipped[:-1] @ clipped[1:]) / square if square > 0 else 0.0
    rho = float(np.clip(plain + (1 + 4 * plain) / len(hours), 0.0, 0.95))
    weights = np.minimum(1.0, 2.0 * scale / np.maximum(np.abs(fit.resid), 1e-12))
    centre = np.average(hours, weights=weights)
    spread = float(np.sum(weights * (hours - centre) ** 2))
    return fit.params[1], residual / np.sqrt(spread) * np.sqrt((1 + rho) / (1 - rho))


def hour_line(time, metres, now):
    inside = (time >= now - 3600.0) & (time < now)
    if inside.sum() < 3 or np.ptp(time[inside]) < 40 * 60.0:
        return None
    return line((time[inside] - now) / 3600.0, metres[inside])


def day_rise(time, metres, now):
    """What the last 8 h stand higher than the same quarter hours of the day before: the median, and its standard deviation.

    Means of complete quarter hours: one is complete when a reading after it has come. With fewer than 12 pairs a line through
    16 h or more of the last 24, 1 cm less sure.
    """
    quarter = np.floor(time / 900.0)
    known = time < now
    last = quarter[known].max() if known.any() else None
    inside = known & (quarter < (last if last is not None else 0))
    means = pd.DataFrame({"q": quarter[inside], "t": time[inside], "m": metres[inside]}).groupby("q").mean()
    newest = means[(means.t >= now - 8 * 3600.0) & (means.t < now)].copy()
    newest["day_before"] = newest.t - 86400.0
    pairs = pd.merge_asof(newest, means.rename(columns={"t": "then", "m": "was"}), left_on="day_before", right_on="then",
                          direction="nearest", tolerance=450.0).dropna()
    if len(pairs) >= 12:
        rise = np.sort((pairs.m - pairs.was).to_numpy())
        median = rise[len(rise) // 2]
        off = np.sort(np.abs(rise - median))
        spread = 1.4826 * off[len(off) // 2]
        return median / 24.0, np.hypot(spread / np.sqrt(len(rise) / 4.0), 0.002) / 24.0
    means = means[(means.t >= now - 86400.0) & (means.t < now)]
    if len(means) < 3 or np.ptp(means.t) < 16 * 3600.0:
        return None
    slope, sd = line((means.t.to_numpy() - now) / 3600.0, means.m.to_numpy())
    return slope, np.hypot(sd, 0.01 / 24.0)


def at_end(time, value, now):
    """The mean of the ten minutes up to the newest, if that is of the last hour."""
    place = np.searchsorted(time, now, side="left") - 1
    if place < 0 or now - time[place] > 3600.0:
        return None
    return value[(time >= time[place] - 600.0) & (time <= time[place])].mean()


def degree_days(time, celsius, from_):
    """Cumulative, at the end of each stretch between readings, and days covered."""
    keep = time >= from_
    time, celsius = time[keep], celsius[keep]
    a, b, step = celsius[:-1], celsius[1:], np.diff(time)

    def antiderivative(x):
        # of min(max(x - BASE, 0), UPPER - BASE)
        y = np.clip(x, BASE_C, UPPER_C)
        return (y - BASE_C) ** 2 / 2 + (UPPER_C - BASE_C) * np.maximum(x - UPPER_C, 0.0)

    flat = np.clip(a, BASE_C, UPPER_C) - BASE_C
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = np.where(np.abs(b - a) < 1e-12, flat, (antiderivative(b) - antiderivative(a)) / (b - a))
    counts = step <= DEGREE_DAY_GAP_S
    total = np.cumsum(np.where(counts, mean * step, 0.0)) / 86400.0
    covered = np.cumsum(np.where(counts, step, 0.0)) / 86400.0
    return time[1:], total, covered


def iso(time):
    at = datetime.fromtimestamp(round(time * 1000) / 1000, tz=timezone.utc).astimezone(ZONE)
    return at.isoformat(timespec="milliseconds" if at.microsecond else "seconds")


def main():
    series = read(sys.argv[1])
    grid = pd.read_csv(sys.argv[2], comment="#")
    grid = grid[grid.p_pa == 101325].pivot(index="t_c", columns="rh_pct", values="c_coolprop_humidair")
    sound = RegularGridInterpolator((grid.index, grid.columns), grid.to_numpy())
    first, last = SPANS[sys.argv[3]]
    before = datetime.fromtimestamp(STORY["bud seen"] - 72 * 3600, tz=ZONE)
    from_ = local(first) if first else before.replace(hour=0, minute=0, second=0, microsecond=0).timestamp()
    until = local(last)
    edges = edges_of(from_, until)
    starts, ends = edges[:-1], edges[1:]
    clock = [datetime.fromtimestamp(start, tz=ZONE) for start in starts]
    night = np.array([at.hour >= 21 or at.hour < 6 for at in clock])
    date = np.array([at.date() - timedelta(days=1) if at.hour < 6 else at.date() for at in clock])
    rows = []

    def put(table, row, figure, unit, value, ashrae=None):
        if value is None or (isinstance(value, float) and np.isnan(value)):
            return
        text = value if isinstance(value, str) else f"{value:.6f}"
        rows.append((table, row, figure, unit, text, "" if ashrae is None else f"{ashrae:.6f}"))

    units = {"temperature": "°C", "humidity": "%RH", "vapour-pressure deficit": "kPa", "dew-point spread": "°C"}
    both = {}
    for name, (time, value, by_ashrae) in air(series).items():
        both[name] = figures_of(time, value, LIMITS[name], edges)
        both[name]["ashrae"] = figures_of(time, by_ashrae, LIMITS[name], edges) if by_ashrae is not None else None

    def total(name, chosen, key):
        mine, theirs = both[name], both[name]["ashrae"]
        return mine[key][chosen].sum(), theirs[key][chosen].sum() if theirs else None

    def extreme(name, chosen, which):
        def of(figures):
            table = figures[which]
            table = table[table.index.isin(np.flatnonzero(chosen))]
            if table.empty:
                return None
            return table.loc[table.value.idxmin() if which == "lowest" else table.value.idxmax()]
        mine, theirs = of(both[name]), both[name]["ashrae"]
        return mine, of(theirs).value if theirs and mine is not None else None

    def mean(name, chosen):
        hours, hours_a = total(name, chosen, "measured")
        sum_, sum_a = total(name, chosen, "integral")
        return (sum_ / hours if hours > 0 else None), (sum_a / hours_a if hours_a else None)

    # the plant
    tip = position(series, "tip-range", TIP_MOUNT_M, sound)
    rim = position(series, "rim-range", RIM_MOUNT_M, sound)
    crack = STORY["first crack"]
    inside = (rim[0] >= crack - 6 * 3600) & (rim[0] < crack)
    rest = rim[1][inside].mean()
    heat_from = max(STORY["bud seen"], from_)
    heat_time, heat, covered = degree_days(*series["temperature"], heat_from)

    def heat_at(now, of=None):
        place = np.searchsorted(heat_time, now, side="left") - 1
        return float((heat if of is None else of)[place]) if place >= 0 and now > heat_from else None

    plant = []
    for end in ends:
        hour, day, rim_hour = hour_line(*tip, end), day_rise(*tip, end), hour_line(*rim, end)
        advance = at_end(*rim, end)
        plant.append({
            "height": at_end(*tip, end), "hour": hour, "day": day,
            "rim": None if advance is None else advance - rest, "rim hour": rim_hour, "heat": heat_at(end),
        })

    # table: bloom
    story = {name: time for name, time in STORY.items() if name in ("bud seen",) or from_ <= time < until}
    for name, time in story.items():
        put("bloom", name, "when", "", iso(time))

    def greatest(name, unit, found, factor):
        found = [(value, when) for value, when in found if value is not None]
        if found:
            value, when = max(found, key=lambda pair: (pair[0], -pair[1]))
            put("bloom", name, "value", unit, value * factor)
            put("bloom", name, "when", "", iso(when))

    greatest("tallest", "m", [(p["height"], end) for p, end in zip(plant, ends)], 1.0)
    greatest("fastest growth over a day", "cm/d",
             [(p["day"][0] if p["day"] else None, end) for p, end in zip(plant, ends)], 2400.0)
    about = (rim[0] >= crack - 12 * 3600) & (rim[0] <= crack + 48 * 3600) & (rim[0] < until)
    greatest("furthest rim advance", "cm", zip(rim[1][about] - rest, rim[0][about]), 100.0)
    greatest("fastest rim hour", "cm/h",
             [(p["rim hour"][0] if p["rim hour"] else None, end) for p, end in zip(plant, ends)
              if crack < end <= crack + 86400], 100.0)
    place = np.searchsorted(heat_time, crack, side="right") - 1
    put("bloom", "degree-days to first crack", "value", "°C·d", float(heat[place]))
    put("bloom", "degree-days to first crack", "when", "", iso(crack))
    put("bloom", "degree-days to the end", "value", "°C·d", heat_at(ends[-1]))
    put("bloom", "degree-days to the end", "when", "", iso(ends[-1]))
    put("bloom", "days of temperature behind them", "value", "d", heat_at(ends[-1], covered))

    # tables: limits and extremes
    decimals = {"kPa": 2}
    for part, chosen in [("whole", np.ones_like(night)), ("nights", night), ("days", ~night)]:
        for name, unit in units.items():
            places = decimals.get(unit, 1)
            for kind, band in zip(["warning", "alarm"], LIMITS[name]):
                if not band:
                    continue
                words = f"from {band[0]:.{places}f}" if np.isinf(band[1]) else f"{band[0]:.{places}f} to {band[1]:.{places}f}"
                row = f"{part}: {name} {words} {unit}" + (" (alarm)" if kind == "alarm" else "")
                measured, measured_a = total(name, chosen, "measured")
                below, below_a = total(name, chosen, (kind, "below"))
                above, above_a = total(name, chosen, (kind, "above"))
                within_a = None if measured_a is None else measured_a - below_a - above_a
                put("limits", row, "within", "h", measured - below - above, within_a)
                put("limits", row, "below", "h", below, below_a)
                put("limits", row, "above", "h", above, above_a)
                put("limits", row, "measured", "h", measured, measured_a)
            row = f"{part}: {name}"
            for which, at in [("lowest", "at"), ("highest", "highest at")]:
                found, found_a = extreme(name, chosen, which)
                put("extremes", row, which, unit, found.value, found_a)
                put("extremes", row, at, "", iso(found.time))
            put("extremes", row, "mean", unit, *mean(name, chosen))

    def air_cells(table, row, chosen):
        for name, unit in [("temperature", "°C"), ("humidity", "%RH")]:
            put(table, row, name, unit, *mean(name, chosen))
            for which in ["lowest", "highest"]:
                found, _ = extreme(name, chosen, which)
                put(table, row, f"{name}, {which}", unit, None if found is None else found.value)
        put(table, row, "deficit", "kPa", *mean("vapour-pressure deficit", chosen))
        found, found_a = extreme("dew-point spread", chosen, "lowest")
        put(table, row, "spread, lowest", "°C", None if found is None else found.value, found_a)
        if total("dew-point spread", chosen, "measured")[0] > 0:
            put(table, row, "near dew point", "h", *total("dew-point spread", chosen, ("warning", "below")))

    def plant_cells(table, row, p):
        put(table, row, "rim advance", "cm", None if p["rim"] is None else p["rim"] * 100)
        put(table, row, "height", "m", p["height"])
        for name, key in [("rim rate", "rim hour"), ("growth", "hour")]:
            if p[key]:
                put(table, row, name, "cm/h", p[key][0] * 100)
                put(table, row, f"{name} sd", "cm/h", p[key][1] * 100)

    # table: opening night
    for place, (start, end) in enumerate(zip(starts, ends)):
        if crack - 3 * 3600 < end <= crack + 86400:
            chosen = np.arange(len(starts)) == place
            for name, figure in zip(units, ["temperature", "humidity", "deficit", "spread"]):
                put("opening night", iso(start), figure, units[name], *mean(name, chosen))
            plant_cells("opening night", iso(start), plant[place])

    # tables: nights, days
    for table, part in [("nights", night), ("days", ~night)]:
        for day in sorted(set(date[part])):
            chosen = part & (date == day)
            air_cells(table, str(day), chosen)
            last = plant[np.flatnonzero(chosen)[-1]]
            put(table, str(day), "height at its end", "m", last["height"])
            if last["day"]:
                put(table, str(day), "growth over 24 h", "cm/d", last["day"][0] * 2400)
                put(table, str(day), "growth sd", "cm/d", last["day"][1] * 2400)

    # table: outages
    words = {"temperature": "air temperature", "humidity": "relative humidity", "tip-range": "distance to the spadix tip",
             "rim-range": "distance to the spathe edge"}
    found = []
    for order, (quantity, name) in enumerate(words.items()):
        time = series[quantity][0]
        for before, after in zip(time[:-1], time[1:]):
            if after - before > LONGEST_S and max(before, from_) < min(after, until):
                found.append((after, order, name, max(before, from_), min(after, until)))
    for number, (_, _, name, began, ended) in enumerate(sorted(found), 1):
        put("outages", str(number), "sensor", "", name)
        put("outages", str(number), "from", "", iso(began))
        put("outages", str(number), "to", "", iso(ended))
        put("outages", str(number), "lasted", "h", (ended - began) / 3600)

    # table: hours
    if first:
        for place, start in enumerate(starts):
            chosen = np.arange(len(starts)) == place
            row, p = iso(start), plant[place]
            air_cells("hours", row, chosen)
            for which in ["lowest", "highest"]:
                found, found_a = extreme("vapour-pressure deficit", chosen, which)
                if found is not None:
                    put("hours", row, f"deficit, {which}", "kPa", found.value, found_a)
            plant_cells("hours", row, p)
            if p["day"]:
                put("hours", row, "growth over 24 h", "cm/d", p["day"][0] * 2400)
            put("hours", row, "degree-days", "°C·d", p["heat"])

    print("# Figures of a review, computed by figures.py beside this file (its head names method, libraries and versions)")
    print(f"# from `benches --seed 1 --tape --signs --recording`, with the holes that figures.py lists; span: {sys.argv[3]}")
    pd.DataFrame(rows, columns=["table", "row", "figure", "unit", "value", "by_ashrae"]).to_csv(sys.stdout, index=False)


if __name__ == "__main__":
    main()
