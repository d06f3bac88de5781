"""What a grower declares about one farm, as validated, immutable values in metric units."""

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal, Self, TypeVar

from pydantic import Field, ModelWrapValidatorHandler, ValidationInfo, field_validator, model_validator

from dawnbrew.farm import defaults
from dawnbrew.farm.brewing import Recipe, Tank, Vessel
from dawnbrew.farm.calling import CONSOLE, Channel, NudgeSettings
from dawnbrew.farm.crew import Gear, Method, Person, Work
from dawnbrew.farm.declared import Declared
from dawnbrew.farm.faults import Fault, refusal, refuse
from dawnbrew.farm.ferments import Ferment
from dawnbrew.farm.fields import (
    CelsiusPoint,
    CelsiusSpan,
    Flag,
    HarvestInterval,
    KilometresPerHour,
    LitresPerSquareMetre,
    Minutes,
    Name,
    Number,
    Whole,
    Zone,
)
from dawnbrew.farm.ground import Bed, Cover, Program
from dawnbrew.farm.learned import LearnedRecipe, LearnedVessel
from dawnbrew.farm.names import same_key
from dawnbrew.farm.references import OWN_WATER, numbered, reference_faults
from dawnbrew.farm.supplies import MouldPlace, Stock, SupplySettings
from dawnbrew.farm.water import DOSED_STANDS_MIN, Water, WaterSettings, WaterSource
from dawnbrew.farm.weather import WeatherSettings
from dawnbrew.farm.web_address import WEB_PORT, WebSettings
from dawnbrew.quantities import Units, show_speed, show_temperature, show_temperature_span

__all__ = [
    "CONSOLE", "WEB_PORT", "Bed", "Channel", "Climate", "Cover", "Farm", "Ferment", "Gear", "LearnedRecipe",
    "LearnedVessel", "Method", "MouldPlace", "NudgeSettings", "Person", "Place", "Prices", "Program",
    "Recipe", "RuleLimits", "Stock", "SupplySettings", "Tank", "Units", "Vessel", "Water",
    "WaterSettings", "WaterSource", "WeatherSettings", "WebSettings", "Work",
]  # fmt: skip

MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
          "November", "December")  # fmt: skip

COLDEST_C, HOTTEST_C = -60, 50
"""Monthly means beyond these are a slip of the pen; the coldest town has -50, the hottest 45; from memory."""


class Place(Declared):
    """Where the farm is and how it counts: table `[farm]`."""

    name: Name
    latitude: Annotated[Number, Field(ge=-90, le=90)] = Field(description="degrees, north positive")
    longitude: Annotated[Number, Field(ge=-180, le=180)] = Field(description="degrees, east positive")
    timezone: Zone
    units: Units = "metric"
    learn: Flag = Field(False, description="whether plans follow what noted batches teach")


class Climate(Declared):
    """Mean daily minimum and maximum of each month, January first: table `[climate]`.

    `unit` is that of the file; `lows_c` and `highs_c` are in C whatever it says.
    """

    unit: Literal["C", "F"] = "C"
    lows_c: tuple[Number, ...] = Field(alias="lows", min_length=12, max_length=12)
    highs_c: tuple[Number, ...] = Field(alias="highs", min_length=12, max_length=12)

    @field_validator("lows_c", "highs_c")
    @classmethod
    def _in_celsius(cls, months: tuple[float, ...], info: ValidationInfo) -> tuple[float, ...]:
        fahrenheit = info.data.get("unit") == "F"
        celsius = tuple((month - 32) * 5 / 9 for month in months) if fahrenheit else months
        odd = next((n for n, month in enumerate(celsius) if not COLDEST_C <= month <= HOTTEST_C), None)
        if odd is not None:
            raise refuse(
                got=f"{months[odd]:g} {info.data.get('unit', 'C')} for {MONTHS[odd]}",
                need=f"monthly means lie between {COLDEST_C} and {HOTTEST_C} C",
                fix='Look for a slip, or for the unit: unit = "F" where the numbers are Fahrenheit.',
            )
        return celsius

    def _faults(self) -> Iterator[Fault]:
        units: Units = "us" if self.unit == "F" else "metric"
        for month, low_c, high_c in zip(MONTHS, self.lows_c, self.highs_c, strict=True):
            if low_c > high_c:
                yield Fault(
                    got=f"{show_temperature(low_c, units)} as the low of {month}, above its high of "
                    f"{show_temperature(high_c, units)}",
                    need="the mean minimum of a month is not above its mean maximum",
                    fix="Exchange the two numbers, or the two lists; the months go from January to December.",
                    at=("lows",),
                )


class RuleLimits(Declared):
    """The thresholds of the rules: table `[rules]`."""

    uv_limit: Annotated[Number, Field(gt=0, le=12)] = 3.0
    hours_from_sun_min: Minutes = Field(180.0, alias="hours_from_sun")
    tunnel_offset_c: CelsiusSpan = Field(4.0, alias="tunnel_offset")
    neighbours_sensitive: Flag = False
    wind_least_kmh: KilometresPerHour = Field(2.0, alias="wind_least", description="at the nozzle")
    wind_most_kmh: KilometresPerHour = Field(15.0, alias="wind_most", description="at the nozzle")
    delta_t_least_c: CelsiusSpan = Field(2.0, alias="delta_t_least", description="dry minus wet bulb")
    delta_t_most_c: CelsiusSpan = Field(8.0, alias="delta_t_most", description="dry minus wet bulb")
    dry_before_mist_min: Minutes = Field(120.0, alias="dry_before_mist")
    dry_after_mist_min: Minutes = Field(120.0, alias="dry_after_mist")
    heavy_rain_mm: LitresPerSquareMetre = Field(
        15.0, alias="heavy_rain", description="in 24 h, after or before"
    )
    frozen_below_c: CelsiusPoint = Field(0.0, alias="frozen_below")
    hot_above_c: CelsiusPoint = Field(30.0, alias="hot_above")
    harvest_interval_d: HarvestInterval = Field(
        None, alias="harvest_interval", description="days (edible part off the soil, on the soil), or none"
    )

    def _faults(self) -> Iterator[Fault]:
        pairs = (
            ("wind_least", self.wind_least_kmh, "wind_most", self.wind_most_kmh, show_speed),
            ("delta_t_least", self.delta_t_least_c, "delta_t_most", self.delta_t_most_c,
             show_temperature_span),
        )  # fmt: skip
        for key, least, other, most, show in pairs:
            if least >= most:
                yield Fault(
                    f"{show(least, 'metric')}, not below {other} of {show(most, 'metric')}",
                    f"{key} lies below {other}", "Exchange the two, or leave both out.", (key,),
                )  # fmt: skip


class Prices(Declared):
    """What the planner weighs against each other, in points: table `[prices]`."""

    batch: Annotated[Whole, Field(ge=0, le=100_000)] = 100
    day_off: Annotated[Whole, Field(ge=0, le=100_000)] = 20


def _usual_people() -> tuple[Person, ...]:
    return tuple(Person.model_validate(person) for person in defaults.PEOPLE)


def _usual_recipes() -> tuple[Recipe, ...]:
    return tuple(Recipe.model_validate(recipe) for recipe in defaults.RECIPES)


def _usual_gear() -> tuple[Gear, ...]:
    return tuple(Gear.model_validate(gear) for gear in defaults.GEAR)


def _usual_programs() -> tuple[Program, ...]:
    return tuple(Program.model_validate(program) for program in defaults.PROGRAMS)


class Farm(Declared):
    """Everything in one farm.toml; people, recipes, gear, programs may be left out.

    `programs` holds the usual ones as well, where the file declares none of their names.
    """

    place: Place = Field(alias="farm")
    climate: Climate
    weather: WeatherSettings = WeatherSettings()
    rules: RuleLimits = RuleLimits()
    prices: Prices = Prices()
    nudges: NudgeSettings = NudgeSettings()
    web: WebSettings = WebSettings()
    water: WaterSettings = WaterSettings()
    supplies: SupplySettings = SupplySettings()
    people: tuple[Person, ...] = Field(default_factory=_usual_people, min_length=1)
    channels: tuple[Channel, ...] = ()
    tanks: tuple[Tank, ...] = ()
    vessels: tuple[Vessel, ...] = Field(min_length=1)
    recipes: tuple[Recipe, ...] = Field(default_factory=_usual_recipes, min_length=1)
    ferments: tuple[Ferment, ...] = ()
    gear: tuple[Gear, ...] = Field(default_factory=_usual_gear, min_length=1)
    programs: tuple[Program, ...] = Field(default_factory=_usual_programs, min_length=1)
    beds: tuple[Bed, ...] = Field(min_length=1)
    stock: tuple[Stock, ...] = ()
    mould_places: tuple[MouldPlace, ...] = Field((), alias="leaf_mould")
    learned: tuple[LearnedRecipe, ...] = ()
    learned_vessels: tuple[LearnedVessel, ...] = ()

    @field_validator("programs")
    @classmethod
    def _with_usual(cls, declared: tuple[Program, ...]) -> tuple[Program, ...]:
        usual = defaults.usual_programs_beside([program.name for program in declared])
        return (*declared, *(Program.model_validate(program) for program in usual))

    @model_validator(mode="wrap")
    @classmethod
    def _refer(cls, declared: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        farm = handler(declared)
        faults = reference_faults(declared) if isinstance(declared, Mapping) else []
        if faults:
            raise refusal(faults)
        return farm

    @property
    def owner(self) -> Person:
        """Who hears of faults: the person named in the nudges' settings, else the first."""
        return self.people[0] if self.nudges.owner is None else self.person(self.nudges.owner)

    def person(self, name: str) -> Person:
        """Return the person of that name; case does not count. Errors: KeyError."""
        return _by_name(self.people, name)

    def channels_of(self, person: Person) -> tuple[str, ...]:
        """Return the names of a person's channels as they are declared, the console where there are none."""
        known = {same_key(name): name for name in (CONSOLE, *(channel.name for channel in self.channels))}
        return tuple(known[same_key(name)] for name in person.channels) or (CONSOLE,)

    def program(self, name: str) -> Program:
        """Return the program of that name; case does not count. Errors: KeyError."""
        return _by_name(self.programs, name)

    def recipe(self, name: str | None) -> Recipe:
        """Return the recipe of that name, or the first one for None. Errors: KeyError."""
        return self.recipes[0] if name is None else _by_name(self.recipes, name)

    def ferments_of(self, program: Program) -> tuple[Ferment, ...]:
        """Return the barrels that a program's ferment comes from; none where nobody keeps count."""
        if program.ferment is None:
            return ()
        wanted = [same_key(name) for name in program.ferment_from]
        return tuple(one for one in self.ferments if not wanted or same_key(one.name) in wanted)

    def tank(self, name: str) -> Tank:
        """Return the tank of that name. Errors: KeyError."""
        return _by_name(self.tanks, name)

    def water_of(self, one: Tank | Vessel | Gear) -> Water:
        """Return the water that stands in a tank, goes into a vessel, or that gear mixes with."""
        source = one
        if isinstance(one, Vessel) and one.water_from != OWN_WATER:
            source = self.tank(one.water_from)
        return source.water_within(self.water)

    def stands_min(self, vessel: Vessel) -> float:
        """Return how long the water of a vessel stands before the start, dosed water but shortly [min]."""
        water = self.water_of(vessel)
        is_dosed = water.dose is not None and water.is_chlorinated
        is_said = "stands_min" in vessel.model_fields_set
        return DOSED_STANDS_MIN if is_dosed and not is_said else vessel.stands_min

    def gear_for(self, bed: Bed, method: Method) -> Gear:
        """Return what a bed is treated with: its own gear if able of the method, else the first that is.

        Errors: KeyError.
        """
        own = [_by_name(self.gear, bed.gear)] if bed.gear is not None else []
        for gear in (*own, *self.gear):
            if method in gear.methods:
                return gear
        raise KeyError(method)

    @staticmethod
    def vessel_names(vessel: Vessel) -> list[str]:
        """Return the names of the single vessels of a class: `drum 1`, `drum 2`; `drum` for one."""
        return numbered(vessel.name, vessel.count)


_Named = TypeVar("_Named", Program, Recipe, Gear, Tank, Person)


def _by_name(declared: tuple[_Named, ...], name: str) -> _Named:
    for one in declared:
        if same_key(one.name) == same_key(name):
            return one
    raise KeyError(name)
