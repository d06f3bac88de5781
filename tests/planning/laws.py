"""The laws of a plan, checked from its JSON and the farm alone: nothing of the planner is used."""

import json
from collections import defaultdict
from datetime import date, datetime, timedelta
from itertools import pairwise

from dawnbrew.farm.models import Farm
from dawnbrew.planning.plan import Plan

SLACK_L = 0.02  # draws are printed to the millilitre and added up


def moment(text):
    return datetime.fromisoformat(text)


def presence(farm: Farm, person, around: date) -> list[tuple[datetime, datetime]]:
    """Return a person's hours on the day before, the day and the day after, written down plainly."""
    zone = farm.place.timezone
    spans = []
    for n in (-1, 0, 1):
        on = around + timedelta(days=n)
        if any(off.from_on <= on <= off.until_on for off in person.days_off):
            continue
        for clock in person.hours[on.weekday()]:
            opens = datetime.combine(on, clock.from_at, tzinfo=zone)
            ends_on = on if clock.until_at > clock.from_at else on + timedelta(days=1)
            closes = datetime.combine(ends_on, clock.until_at, tzinfo=zone).replace(fold=1)
            spans.append((opens, closes))
    return spans


def is_there(farm: Farm, name: str, opens: datetime, closes: datetime) -> bool:
    person = next(p for p in farm.people if p.name == name)
    spans = sorted(
        (a.timestamp(), b.timestamp())
        for a, b in presence(farm, person, opens.astimezone(farm.place.timezone).date())
    )
    reach = opens.timestamp()
    for a, b in spans:
        if a <= reach:
            reach = max(reach, b)
    return reach >= closes.timestamp() and any(a <= opens.timestamp() < b for a, b in spans)


def broken_laws(farm: Farm, plan: Plan) -> list[str]:
    """Return a sentence for each law that a plan breaks; what is over on a plan made again is left aside."""
    data = json.loads(plan.to_json())
    over = {b["id"] for b in data["batches"] if moment(b["start_at"]) <= plan.made_at}
    data["tasks"] = [t for t in data["tasks"] if not (moment(t["at"]) <= plan.made_at and t["batch"] in over)]
    slots = {slot["id"]: slot for slot in data["slots"]}
    batches = {batch["id"]: batch for batch in data["batches"]}
    placed = [
        t for t in data["treatments"] if t["state"] == "planned" and moment(t["work_from"]) > plan.made_at
    ]
    return [
        *_ids(data),
        *_places(farm, placed, slots),
        *_litres(farm, placed, batches, _used(data)),
        *_primes(farm, placed, batches),
        *_vessels(farm, batches.values(), over),
        *_tanks(farm, data, batches),
        *_tank_fills(farm, data, over),
        *_people(farm, data, placed),
        *_gaps(farm, placed, slots),
        *_counts(data),
        *_ferments(farm, data),
    ]


def _ids(data):
    for kind in ("slots", "treatments", "batches", "tasks"):
        ids = [one["id"] for one in data[kind]]
        if len(ids) != len(set(ids)):
            yield f"{kind}: an id comes twice"


def _places(farm, placed, slots):
    beds = {bed.name: bed for bed in farm.beds}
    for one in placed:
        slot = slots[one["slot"]]
        bed = beds[one["bed"]]
        if not one["due_from"] <= slot["on"] <= one["due_until"]:
            yield f"{one['id']}: {slot['on']} is outside its due days"
        if one["step"] == "on" and slot["on"] != bed.planting_on.isoformat():
            yield f"{one['id']}: not on planting day"
        if one["step"] == "before" and slot["on"] >= bed.planting_on.isoformat():
            yield f"{one['id']}: not before planting"
        opens, closes = moment(one["work_from"]), moment(one["work_until"])
        if not moment(slot["opens_at"]) <= opens < closes <= moment(slot["closes_at"]):
            yield f"{one['id']}: works outside its slot"
        if (closes - opens) != timedelta(minutes=one["minutes"]):
            yield f"{one['id']}: minutes do not match its span"
        covered = bed.cover in ("fabric", "mulch") and one["method"] == "drip"
        if slot["part"] == "day" and not (one["method"] == "hole" or covered or bed.lit):
            yield f"{one['id']}: in the middle of the day"
        if one["method"] == "mist":
            mist = slot["mist_opens_at"], slot["mist_closes_at"]
            if mist[0] is None or not moment(mist[0]) <= opens < closes <= moment(mist[1]):
                yield f"{one['id']}: mist outside the hours of mist"


def _used(data):
    return {draw["batch"] for t in data["treatments"] for draw in t["batches"]}


def _litres(farm, placed, batches, used):
    drawn = defaultdict(float)
    for one in placed:
        got = sum(draw["litres"] for draw in one["batches"])
        if abs(got - one["brew_l"]) > SLACK_L:
            yield f"{one['id']}: needs {one['brew_l']} L, gets {got} L"
        for draw in one["batches"]:
            drawn[draw["batch"]] += draw["litres"]
            if batches[draw["batch"]]["slot"] != one["slot"]:
                yield f"{one['id']}: draws from a batch of another slot"
            wanted = farm.recipe(next(b for b in farm.beds if b.name == one["bed"]).recipe).name
            if batches[draw["batch"]]["recipe"] != wanted:
                yield f"{one['id']}: draws from another recipe"
    for batch_id, batch in batches.items():
        if drawn[batch_id] > batch["volume_l"] + SLACK_L:
            yield f"{batch_id}: {drawn[batch_id]} L drawn from {batch['volume_l']} L"
        if not drawn[batch_id] and batch["state"] in ("planned", "running") and batch["id"] not in used:
            yield f"{batch_id}: brewed for nothing"


def _primes(farm, placed, batches):
    for one in placed:
        for draw in one["batches"]:
            batch = batches[draw["batch"]]
            prime = moment(batch["prime_from"]), moment(batch["prime_until"])
            # starts are whole minutes and primes whole seconds
            if moment(one["work_from"]) < prime[0] - timedelta(minutes=1):
                yield f"{one['id']}: begins before the prime of {batch['id']}"
            if moment(one["work_until"]) > prime[1] + timedelta(minutes=1):
                yield f"{one['id']}: ends after the prime of {batch['id']}"


def _vessels(farm, batches, over):
    by_vessel = defaultdict(list)
    known = {name: vessel for vessel in farm.vessels for name in farm.vessel_names(vessel)}
    for batch in batches:
        vessel = known[batch["vessel"]]
        by_vessel[batch["vessel"]].append(batch)
        fill, start = moment(batch["fill_at"]), moment(batch["start_at"])
        stands = vessel.water_from == "vessel" and batch["id"] not in over
        if stands and start - fill < timedelta(minutes=vessel.stands_min):
            yield f"{batch['id']}: its water does not stand long enough"
        if batch["state"] != "to-ferment" and (
            not fill
            <= start
            < moment(batch["prime_from"])
            < moment(batch["peak_at"])
            < moment(batch["prime_until"])
        ):
            yield f"{batch['id']}: its moments are out of order"
        if batch["volume_l"] != vessel.volume_l:
            yield f"{batch['id']}: not brewed to the working volume"
        if batch["state"] in ("planned", "running") and batch["liquid"]["from"] != batch["start_at"]:
            yield f"{batch['id']}: its liquid is not told from its start on"
    for name, row in by_vessel.items():
        row.sort(key=lambda batch: batch["fill_at"])
        for one, other in pairwise(row):
            if moment(other["fill_at"]) < moment(one["free_at"]):
                yield f"{name}: {other['id']} is filled before {one['id']} is washed"


def _tanks(farm, data, batches):
    volumes = {tank.name: tank.volume_l for tank in farm.tanks}
    vessel_of = {name: vessel for vessel in farm.vessels for name in farm.vessel_names(vessel)}
    standing = defaultdict(list)
    for batch in batches.values():
        vessel = vessel_of[batch["vessel"]]
        if vessel.water_from != "vessel":
            poured = moment(batch["fill_at"])
            standing[vessel.water_from].append(
                (poured - timedelta(minutes=vessel.stands_min), poured, vessel.volume_l)
            )
    for tank, spans in standing.items():
        for at, _, _ in spans:
            litres = sum(litre for a, b, litre in spans if a <= at < b)
            if litres > volumes[tank] + SLACK_L:
                yield f"{tank}: {litres} L must stand in {volumes[tank]} L at {at}"


def _tank_fills(farm, data, over):
    known = {name: vessel for vessel in farm.vessels for name in farm.vessel_names(vessel)}
    for batch in data["batches"]:
        vessel = known[batch["vessel"]]
        if batch["id"] in over:
            continue
        fills = [t for t in data["tasks"] if t["batch"] == batch["id"] and t["kind"] == "fill"]
        if len(fills) != (1 if vessel.water_from == "vessel" else 2):
            yield f"{batch['id']}: {len(fills)} fillings"
        elif len(fills) == 2:
            stands = moment(batch["fill_at"]) - min(moment(t["at"]) for t in fills)
            if stands < timedelta(minutes=vessel.stands_min):
                yield f"{batch['id']}: its water does not stand long enough in the tank"


def _people(farm, data, placed):
    busy = defaultdict(list)
    for one in placed:
        opens, closes = moment(one["work_from"]), moment(one["work_until"])
        gear = next(g for g in farm.gear if g.name == one["gear"])
        if not one["people"] or len(one["people"]) > gear.sets:
            yield f"{one['id']}: {len(one['people'])} people for {gear.sets} sets of {gear.name}"
        for name in one["people"]:
            busy[name].append((opens, closes, one["id"]))
            person = next(p for p in farm.people if p.name == name)
            if "apply" not in person.does or (gear.needs_skill and gear.needs_skill not in person.skills):
                yield f"{one['id']}: {name} may not do it"
            if not is_there(farm, name, opens, closes):
                yield f"{one['id']}: {name} is not there"
    for task in data["tasks"]:
        if task["kind"] == "apply":
            continue
        if task["person"] is None:
            if task["kind"] in ("fill", "start"):
                yield f"{task['id']}: nobody does it"
            continue
        opens, closes = moment(task["at"]), moment(task["until"])
        busy[task["person"]].append((opens, closes, task["id"]))
        if task["kind"] == "look":  # may stand a little before the hours of whoever comes to work
            continue
        if not is_there(farm, task["person"], opens, closes):
            yield f"{task['id']}: {task['person']} is not there"
        work = {"cook": "start", "ferment": "wash", "steep": "start", "stir": "start"}.get(
            task["kind"], task["kind"]
        )
        if work not in next(p for p in farm.people if p.name == task["person"]).does:
            yield f"{task['id']}: {task['person']} does not do this"
    for name, row in busy.items():
        row.sort()
        for n, one in enumerate(row):
            for other in row[n + 1 :]:
                if other[0] >= one[1]:
                    break
                if not _goes_together(one, other):
                    yield f"{name}: {one[2]} and {other[2]} at once"
    works = sorted(placed, key=lambda one: one["work_from"])
    for one, other in pairwise(works):
        if one["slot"] == other["slot"] and other["work_from"] < one["work_until"]:
            yield f"{one['id']} and {other['id']} are done at once"


def _goes_together(one, other):
    """A pot may boil beside the filling of a vessel, and for two batches of the same work."""
    kinds = {task[2].rsplit(".", 1)[-1].split("-")[0] for task in (one, other)}
    return kinds == {"cook", "fill"} or (kinds == {"cook"} and one[:2] == other[:2])


def _gaps(farm, placed, slots):
    chains = defaultdict(list)
    for one in placed:
        chains[one["bed"], one["program"]].append(one)
    order = {"before": 0, "on": 1, "after": 2, "round": 0}
    for (_, program), row in chains.items():
        row.sort(key=lambda one: (slots[one["slot"]]["on"], order[one["step"]], one["number"]))
        least = farm.program(program).least_gap_d
        for one, other in pairwise(row):
            days = (
                date.fromisoformat(slots[other["slot"]]["on"]) - date.fromisoformat(slots[one["slot"]]["on"])
            ).days
            if days < least:
                yield f"{one['id']} and {other['id']}: {days} days apart, {least} are law"


def _ferments(farm, data):
    got = defaultdict(float)
    for filling in data["ferments"]:
        into = filling["filled_l"] + sum(one["litres"] for one in filling["joined"])
        out = sum(draw["litres"] for draw in filling["draws"])
        if abs(into - out - filling["left_l"]) > SLACK_L or filling["left_l"] < 0:
            yield f"{filling['id']}: {into} L in, {out} L out, {filling['left_l']} L left"
        if filling["state"] == "planned" and moment(data["made_at"]) > moment(
            f"{filling['start_on']}T23:59:59Z"
        ):
            yield f"{filling['id']}: started in the past"
        for draw in filling["draws"]:
            got[draw["treatment"]] += draw["litres"]
            if moment(draw["at"]).astimezone(farm.place.timezone).date().isoformat() < filling["ready_on"]:
                yield f"{filling['id']}: drawn from before it is ready"
    if not data["ferments"] and not data["ferment_lacks"]:
        return
    for one in data["treatments"]:
        is_ahead = one["state"] == "planned" and moment(one["work_from"]) > moment(data["made_at"])
        if is_ahead and abs(got[one["id"]] - one["ferment_l"]) > SLACK_L:
            yield f"{one['id']}: {one['ferment_l']} L of ferment in the mix, {got[one['id']]} L drawn"


def _counts(data):
    unplaced = {t["id"] for t in data["treatments"] if t["state"] == "unplaced"}
    if unplaced != {one["treatment"] for one in data["unplaced"]}:
        yield "the unplaced treatments and their reasons do not match"
    if data["outcome"]["unplaced"] != len(unplaced) or data["outcome"]["batches"] != len(data["batches"]):
        yield "the outcome counts wrongly"
    for one in data["unplaced"]:
        if not one["reasons"] or not one["would_help"]:
            yield f"{one['treatment']}: no reason or no help"
