"""What was understood of a farm file, in the farm's units, with the defaults that were taken."""

from dataclasses import dataclass

from pydantic import BaseModel

from dawnbrew.farm.calling import scheme_of
from dawnbrew.farm.defaults import PROGRAMS
from dawnbrew.farm.fields import DayRange
from dawnbrew.farm.hours import WEEKDAYS, Day
from dawnbrew.farm.models import (
    Bed,
    Channel,
    Farm,
    Ferment,
    Gear,
    LearnedRecipe,
    LearnedVessel,
    MouldPlace,
    Person,
    Program,
    Recipe,
    RuleLimits,
    Stock,
    Tank,
    Vessel,
)
from dawnbrew.farm.names import same_key
from dawnbrew.farm.references import OWN_WATER
from dawnbrew.farm.supplies import Amount
from dawnbrew.farm.water import WithWater
from dawnbrew.quantities import (
    Units,
    show_area,
    show_duration,
    show_flow,
    show_length,
    show_mass,
    show_rate,
    show_speed,
    show_temperature,
    show_temperature_span,
    show_volume,
)


@dataclass(frozen=True)
class Understood:
    """One part of a farm in words.

    Args:
        heading: What it is about: `Vessels`.
        lines: One for each thing, complete in itself.
        is_default: Whether the file says nothing about it and all of it is the usual one.
    """

    heading: str
    lines: tuple[str, ...]
    is_default: bool


def understood(farm: Farm) -> list[Understood]:
    """Return every part of a farm in words, in the order of the reference file."""
    units = farm.place.units
    parts: list[tuple[str, str, list[str]]] = [
        ("place", "Farm", _place(farm)),
        ("climate", "Climate", _climate(farm)),
        ("weather", "Weather", _weather(farm)),
        ("people", "People", [_person(person) for person in farm.people]),
        ("channels", "Channels", [_channel(channel) for channel in farm.channels]),
        ("tanks", "Tanks", [_tank(farm, tank) for tank in farm.tanks]),
        ("vessels", "Vessels", [_vessel(farm, vessel) for vessel in farm.vessels]),
        ("recipes", "Recipes", [_recipe(recipe, units) for recipe in farm.recipes]),
        ("ferments", "Ferments", [_ferment(ferment, units) for ferment in farm.ferments]),
        ("gear", "Gear", [_gear(farm, gear) for gear in farm.gear]),
        ("programs", "Programs", [_program(program) for program in _programs(farm)]),
        ("beds", "Beds", [_bed(bed, units) for bed in farm.beds]),
        ("rules", "Rules", _rules(farm)),
        ("prices", "Prices", [f"a batch {farm.prices.batch} points, a day off ideal {farm.prices.day_off}"]),
        ("nudges", "Nudges", _nudges(farm)),
        ("web", "Web", _web(farm)),
        ("water", "Water", _farm_water(farm)),
        ("supplies", "Supplies", _shopping(farm)),
        ("stock", "Stock", [_stock(stock, units) for stock in farm.stock]),
        ("mould_places", "Leaf mould", [_mould_place(place) for place in farm.mould_places]),
        ("learned", "Learned", [_learned(one, units) for one in farm.learned]),
        (
            "learned_vessels",
            "Learned of vessels",
            [_learned_vessel(one, units) for one in farm.learned_vessels],
        ),
    ]
    said = farm.model_fields_set
    return [
        Understood(heading, tuple(lines if key in said else map(_unmarked, lines)), key not in said)
        for key, heading, lines in parts
        if lines
    ]


def understood_lines(farm: Farm) -> list[str]:
    """Return every part of a farm as plain lines: a heading, then its things, set in by two spaces."""
    lines: list[str] = []
    for part in understood(farm):
        lines.append(f"{part.heading}{_MARK}" if part.is_default else part.heading)
        lines += [f"  {line}" for line in part.lines]
    return lines


def _joined(*words: str | None) -> str:
    return ", ".join(word for word in words if word)


_MARK = " (default)"


def _given(model: BaseModel, field: str, text: str) -> str:
    """Return a text, marked where the file does not say it."""
    return text if field in model.model_fields_set else f"{text}{_MARK}"


def _unmarked(line: str) -> str:
    """Return a line of a part that is a default as a whole, where single marks would say nothing."""
    return line.replace(_MARK, "")


def _place(farm: Farm) -> list[str]:
    place = farm.place
    north = f"{abs(place.latitude):g}° {'N' if place.latitude >= 0 else 'S'}"
    east = f"{abs(place.longitude):g}° {'E' if place.longitude >= 0 else 'W'}"
    units = {"metric": "metric units", "us": "US units", "imperial": "imperial units"}[place.units]
    words = _joined(
        f"{north} {east}",
        f"time of {place.timezone.key}",
        _given(place, "units", units),
        "plans follow what noted batches teach" if place.learn else None,
    )
    return [f"{place.name}: {words}"]


def _climate(farm: Farm) -> list[str]:
    units, climate = farm.place.units, farm.climate
    months = list(zip(climate.lows_c, climate.highs_c, strict=True))
    spans = [f"{show_temperature(low, units)} to {show_temperature(high, units)}" for low, high in months]
    return [f"January {spans[0]}, April {spans[3]}, July {spans[6]}, October {spans[9]}"]


_MEASURED = {
    "air_c": "air", "humidity_percent": "humidity", "wind_10m_kmh": "wind", "rain_mm": "rain",
    "cloud_percent": "cloud", "shortwave_w_m2": "sun",
}  # fmt: skip


def _weather(farm: Farm) -> list[str]:
    weather, station = farm.weather, farm.weather.station
    forecast = "no forecast" if weather.forecast == "none" else f"forecast of {weather.forecast}"
    if weather.forecast_url is not None:
        forecast += f" from {weather.forecast_url}"
    lines = [_given(weather, "forecast", forecast)]
    if station is not None:
        told = [
            f"{_MEASURED[name]} in {column.unit}"
            for name, column in station.columns.items()
            if column is not None
        ]
        zone = station.time_zone or farm.place.timezone
        lines.append(f"station file {station.file}: {', '.join(told)}, time of {zone.key}")
    return lines


def _person(person: Person) -> str:
    away = ", ".join(_range_text(span) for span in person.days_off)
    skills = f"can {', '.join(person.skills)}" if person.skills else None
    does = _given(person, "does", f"does {', '.join(person.does)}")
    words = _joined(
        week_text(person.hours),
        does,
        skills,
        f"away {away}" if away else None,
        f"called by {' and '.join(person.channels)}" if person.channels else None,
        f"not called {_day_text(person.quiet)}" if person.quiet else None,
    )
    return f"{person.name}: {words}"


def _channel(channel: Channel) -> str:
    if channel.url is not None:
        return f"{channel.name}: by {scheme_of(channel.url.get_secret_value())}"
    if channel.url_env is not None:
        return f"{channel.name}: by what the environment variable {channel.url_env} says"
    return f"{channel.name}: by what the file {channel.url_file} says"


def _nudges(farm: Farm) -> list[str]:
    nudges = farm.nudges
    evening = (
        "no evening summary" if nudges.evening_at is None else f"evening summary {nudges.evening_at:%H:%M}"
    )
    next_person = f"the next person after {show_duration(nudges.unanswered_min)} without an answer"
    return [
        _joined(
            _given(nudges, "owner", f"faults go to {farm.owner.name}"),
            _given(nudges, "evening_at", evening),
            _given(nudges, "unanswered_min", next_person),
        )
    ]


def _web(farm: Farm) -> list[str]:
    address = farm.web.address
    if address is None:
        return [f"links are for this machine only, {farm.web.address_or_local}"]
    return [f"links begin with {address}"]


def _range_text(span: DayRange) -> str:
    return f"{span.from_on}" if span.from_on == span.until_on else f"{span.from_on} to {span.until_on}"


def week_text(hours: tuple[Day, ...]) -> str:
    """Return a week of hours in words: `mon-fri 17:00-20:00; sat-sun off`."""
    runs: list[tuple[int, int, Day]] = []
    for n, day in enumerate(hours):
        if runs and runs[-1][2] == day:
            runs[-1] = (runs[-1][0], n, day)
        else:
            runs.append((n, n, day))
    return "; ".join(f"{_days_text(first, last)} {_day_text(day)}" for first, last, day in runs)


def _days_text(first: int, last: int) -> str:
    if (first, last) == (0, len(WEEKDAYS) - 1):
        return "every day"
    return WEEKDAYS[first] if first == last else f"{WEEKDAYS[first]}-{WEEKDAYS[last]}"


def _day_text(day: Day) -> str:
    return " and ".join(str(span) for span in day) if day else "off"


def _farm_water(farm: Farm) -> list[str]:
    if "water" not in farm.model_fields_set:
        return []
    water = farm.water
    how = "left to stand" if water.dose is None else f"dosed with {water.dose}"
    return [
        _joined(
            _given(water, "source", f"from {water.source}"),
            _readings(water.chlorine_mg_l, water.ph),
            _given(water, "dose", how),
        )
    ]


def _shopping(farm: Farm) -> list[str]:
    days = farm.supplies.shopping
    return [f"shopping on {' and '.join(days)}"] if days else []


def _stock(stock: Stock, units: Units) -> str:
    pack = f"in packs of {_amount(stock.pack, units)}" if stock.pack is not None else None
    return f"{stock.name}: {_joined(_amount(stock.amount, units), f'counted {stock.counted_on}', pack)}"


def _amount(measured: Amount, units: Units) -> str:
    return (show_mass if measured.kind == "mass" else show_volume)(measured.amount, units)


def _mould_place(place: MouldPlace) -> str:
    gathered = f"gathered {place.gathered_on}" if place.gathered_on is not None else None
    rests = _given(place, "rests_d", f"rests {_count_text(place.rests_d)}")
    return f"{place.name}: {_joined(gathered, rests)}"


def _learned(one: LearnedRecipe, units: Units) -> str:
    words = _joined(
        f"ripens in {show_duration(one.ripens_min)} at {show_temperature(one.at_c, units)}",
        f"lowest {show_temperature(one.lowest_c, units)}",
        f"batches differ by {100 * one.differs:.0f} %",
        f"from {one.batches} batch{'es' if one.batches > 1 else ''}",
    )
    return f"{one.recipe} in {one.vessel}: {words}"


def _learned_vessel(one: LearnedVessel, units: Units) -> str:
    words = _joined(
        f"cools in {show_duration(one.cools_min)}",
        f"{show_temperature_span(100 * one.sun, units)} warmer in 100 W/m2 of sun",
        f"off by {show_temperature_span(one.off_c, units)}",
        f"from {one.readings} reading{'s' if one.readings > 1 else ''}",
    )
    return f"{one.vessel}: {words}"


def _own_water(one: WithWater) -> str | None:
    """Return what is said of water of its own, None where nothing is."""
    source = f"water: {one.water_source}" if one.water_source is not None else None
    return _joined(source, _readings(one.chlorine_mg_l, one.ph)) or None


def _readings(chlorine_mg_l: float | None, ph: float | None) -> str:
    return _joined(
        None if chlorine_mg_l is None else f"chlorine {chlorine_mg_l:g} mg/L",
        None if ph is None else f"pH {ph:g}",
    )


def _tank(farm: Farm, tank: Tank) -> str:
    return f"{tank.name}: {_joined(show_volume(tank.volume_l, farm.place.units), _own_water(tank))}"


def _vessel(farm: Farm, vessel: Vessel) -> str:
    units = farm.place.units
    sizes = [size for size in (vessel.diameter_m, vessel.length_m, vessel.width_m) if size is not None]
    shape = " x ".join(show_length(size, units) for size in sizes)
    count = f"{vessel.count} of " if vessel.count > 1 else ""
    heated = vessel.heated_to_c
    source = "the vessel itself" if vessel.water_from == OWN_WATER else vessel.water_from
    water = f"water stands {show_duration(farm.stands_min(vessel))} in {source}"
    words = _joined(
        f"{count}{show_volume(vessel.volume_l, units)}",
        _given(vessel, "shape", vessel.shape) + (f" {shape}" if shape else ""),
        "insulated" if vessel.insulated else None,
        None if vessel.lid else "without a lid",
        "under a tunnel" if vessel.cover == "tunnel" else None,
        _given(vessel, "shade", f"{vessel.shade} shade" if vessel.shade != "open" else "in the open"),
        f"heated to {show_temperature(heated, units)}" if heated is not None else None,
        _given(vessel, "stands_min", water),
        _own_water(vessel),
        _given(vessel, "wash_min", f"washing {show_duration(vessel.wash_min)}"),
    )
    return f"{vessel.name}: {words}"


def _recipe(recipe: Recipe, units: Units) -> str:
    parts = _parts(recipe, units)
    ripens = f"ripens in {show_duration(recipe.ripens_min)} at {show_temperature(recipe.at_c, units)}"
    cardinal = " / ".join(
        show_temperature(celsius, units) for celsius in (recipe.lowest_c, recipe.best_c, recipe.highest_c)
    )
    words = _joined(
        _given(recipe, "ripens_min", ripens),
        _given(recipe, "best_c", f"lowest / best / highest {cardinal}"),
        _given(recipe, "prime_from", f"prime {recipe.prime_from:g} to {recipe.prime_until:g} of the way"),
        _given(recipe, "prepare_min", f"preparing {show_duration(recipe.prepare_min)}"),
    )
    return f"{recipe.name}: for {show_volume(recipe.per_l, units)} {parts}; {words}"


def _parts(recipe: Recipe | Ferment, units: Units) -> str:
    return ", ".join(
        f"{(show_mass if part.kind == 'mass' else show_volume)(part.amount, units)} {part.name}"
        for part in recipe.ingredients
    )


def _ferment(ferment: Ferment, units: Units) -> str:
    holds = ferment.holds_l
    words = _joined(
        show_volume(ferment.volume_l, units),
        f"for {show_volume(ferment.per_l, units)} {_parts(ferment, units)}",
        _given(ferment, "steeps_d", f"steeps {_count_text(ferment.steeps_d)}"),
        "stirred daily in the first week, then "
        + _given(ferment, "stirred_d", f"every {_count_text(ferment.stirred_d)}"),
        _given(ferment, "lid", f"{ferment.lid} lid"),
        f"started {ferment.started_on}" if ferment.started_on else None,
        f"{show_volume(holds, units)} in it on {ferment.counted_on}" if holds is not None else None,
    )
    return f"{ferment.name}: {words}"


def _gear(farm: Farm, gear: Gear) -> str:
    units = farm.place.units
    ratio = f"{gear.injector:g} parts of water to 1 part of brew" if gear.injector is not None else None
    reservoir = None
    if gear.reservoir_l is not None:
        filling = "fills itself" if gear.self_filling else f"refilling {show_duration(gear.refill_min)}"
        reservoir = f"reservoir {show_volume(gear.reservoir_l, units)}, {filling}"
    words = _joined(
        f"for {', '.join(gear.methods)}",
        f"{show_flow(gear.flow_l_min, units)} through a {_given(gear, 'outlet', gear.outlet)}",
        f"{gear.nozzle} nozzle" if gear.outlet == "nozzle" else None,
        f"{gear.sets} sets" if gear.sets > 1 else "1 set",
        ratio,
        reservoir,
        _given(gear, "setup_min", f"setting up {show_duration(gear.setup_min)}"),
        _own_water(gear) or f"water: {farm.water.source}{_MARK}",
        f"needs somebody who can {gear.needs_skill}" if gear.needs_skill else None,
    )
    return f"{gear.name}: {words}"


def _programs(farm: Farm) -> list[Program]:
    """Return the programs of the file, and the usual ones that beds take."""
    taken = {same_key(name) for bed in farm.beds for name in bed.programs}
    usual = [Program.model_validate(program) for program in PROGRAMS]
    return [one for one in farm.programs if one not in usual or same_key(one.name) in taken]


def _program(program: Program) -> str:
    if program.is_standing:
        what = f"rounds from {program.from_on} until {program.until_on}"
    else:
        what = f"{program.before} before planting, {program.on} on the day, {program.after} after"
    gaps = f"{program.least_gap_d} to {program.most_gap_d} days apart"
    given = {"smallest_gap_d", "largest_gap_d"} <= program.model_fields_set
    words = _joined(
        what,
        _given(program, "every_d", f"every {_count_text(program.every_d)}"),
        _given(program, "tolerance_d", f"give or take {_count_text(program.tolerance_d)}"),
        gaps if given else f"{gaps}{_MARK}",
        f"by {program.method}" if program.method else None,
        f"by {program.on_method} on planting day" if program.on_method else None,
        _program_ferment(program),
    )
    return f"{program.name}: {words}"


def _program_ferment(program: Program) -> str | None:
    if program.ferment is None:
        return None
    source = f", from {' and '.join(program.ferment_from)}" if program.ferment_from else ""
    alone = "" if program.takes_brew else " and no brew"
    return f"with ferment 1 to {program.ferment:g} of water{alone}{source}"


def _count_text(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"


def _bed(bed: Bed, units: Units) -> str:
    harvest = f"harvest from {bed.harvest_from_on}" if bed.harvest_from_on else None
    eaten_from = f"something to eat from {bed.edible_part_from_on}" if bed.edible_part_from_on else None
    part = _given(bed, "edible_part", f"{bed.edible_part} is eaten") if bed.edible else None
    words = _joined(
        _size(bed, units),
        bed.crop or None,
        f"program {' and '.join(bed.programs)}",
        f"planted {bed.planting_on}" if bed.planting_on else None,
        _given(bed, "method", f"by {bed.method}"),
        f"recipe {bed.recipe}" if bed.recipe else None,
        f"with {bed.gear}" if bed.gear else None,
        f"{show_rate(bed.rate_l_m2, units)} of brew" if bed.rate_l_m2 is not None else None,
        f"{show_volume(bed.brew_l, units)} of brew in all" if bed.brew_l is not None else None,
        f"1 part of brew to {bed.dilution:g} of water" if bed.dilution is not None else None,
        f"under {bed.cover}" if bed.cover != "none" else None,
        "lit" if bed.lit else None,
        f"{bed.slope} slope" if bed.slope != "flat" else None,
        _given(bed, "edible", "edible" if bed.edible else "not edible"),
        part,
        eaten_from,
        harvest,
    )
    return f"{bed.name}: {words}"


def _size(bed: Bed, units: Units) -> str:
    if bed.length_m is not None and bed.width_m is not None:
        sides = f"{show_length(bed.length_m, units)} x {show_length(bed.width_m, units)}"
        return f"{sides} = {show_area(bed.length_m * bed.width_m, units)}"
    if bed.trees is not None and bed.spread_m is not None:
        ball = (
            f", root balls {show_length(bed.root_ball_m, units)} wide" if bed.root_ball_m is not None else ""
        )
        return f"{bed.trees} trees of {show_length(bed.spread_m, units)} spread{ball}"
    if bed.pots is not None and bed.pot_l is not None:
        return f"{bed.pots} pots of {show_volume(bed.pot_l, units)}"
    return show_area(bed.area_m2, units) if bed.area_m2 is not None else ""


def _rules(farm: Farm) -> list[str]:
    rules, units = farm.rules, farm.place.units
    interval = rules.harvest_interval_d
    sensitive = "sensitive neighbours" if rules.neighbours_sensitive else "no sensitive neighbours"
    days = "none" if interval is None else f"{interval[0]}/{interval[1]} days"
    offset = f"air under tunnels {show_temperature_span(rules.tunnel_offset_c, units)} warmer"
    told = [
        _joined(
            _given(rules, "uv_limit", f"UV index below {rules.uv_limit:g}"),
            _given(
                rules,
                "hours_from_sun_min",
                f"within {show_duration(rules.hours_from_sun_min)} of sunrise or sunset",
            ),
            _given(rules, "tunnel_offset_c", offset),
            _given(rules, "neighbours_sensitive", sensitive),
            _given(rules, "harvest_interval_d", f"harvest interval {days}"),
        )
    ]
    asks_of_weather = farm.weather.forecast != "none" or farm.weather.station is not None
    return [*told, _weather_rules(rules, units)] if asks_of_weather else told


def _weather_rules(rules: RuleLimits, units: Units) -> str:
    """Return the thresholds that are asked of hours whose weather is known."""
    least, most = show_speed(rules.wind_least_kmh, units), show_speed(rules.wind_most_kmh, units)
    damp, dry = (show_temperature_span(c, units) for c in (rules.delta_t_least_c, rules.delta_t_most_c))
    return _joined(
        _given(rules, "wind_least_kmh", f"mist from {least} of wind"),
        _given(rules, "wind_most_kmh", f"mist up to {most} of wind"),
        _given(rules, "delta_t_least_c", f"Delta T from {damp}"),
        _given(rules, "delta_t_most_c", f"Delta T up to {dry}"),
        _given(
            rules,
            "dry_before_mist_min",
            f"leaves wet for {show_duration(rules.dry_before_mist_min)} after rain",
        ),
        _given(rules, "dry_after_mist_min", f"dry for {show_duration(rules.dry_after_mist_min)} after mist"),
        _given(rules, "heavy_rain_mm", f"heavy rain from {rules.heavy_rain_mm:g} mm in 24 h"),
        _given(rules, "frozen_below_c", f"frozen below {show_temperature(rules.frozen_below_c, units)}"),
        _given(rules, "hot_above_c", f"hot above {show_temperature(rules.hot_above_c, units)}"),
    )
