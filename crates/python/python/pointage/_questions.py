"""Questions and answers. Made from data/schema by questions.py: change nothing here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, NotRequired, TypeAlias, TypedDict, overload

from ._pointage import ask as _ask

if TYPE_CHECKING:
    import numpy
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[Any]
    Numbers: TypeAlias = NDArray[numpy.float64]
    Errors: TypeAlias = NDArray[numpy.object_]


def _with_bake(fields: dict[str, Any]) -> dict[str, Any]:
    """A bake may be the text of its file, or the file."""
    bake = fields.pop("bake")
    if isinstance(bake, PathLike):
        bake = Path(bake).read_text("utf-8")
    fields["bake_toml" if isinstance(bake, str) else "bake"] = bake
    return fields


__all__ = [
    "Action",
    "AdjustAnswer",
    "Amount",
    "Assumption",
    "Cause",
    "Caution",
    "Caution2",
    "Change",
    "CompareAnswer",
    "CompareRow",
    "CoreAnswer",
    "DdtFormulaAnswer",
    "DoseAnswer",
    "DoseAt",
    "DoseColumns",
    "ErrorKind",
    "Finding",
    "FitLaw",
    "FitRateAnswer",
    "FittedRow",
    "Forecast",
    "FrictionAnswer",
    "FrictionDiagnostic",
    "Grade",
    "HeatBalanceAnswer",
    "IceAnswer",
    "IceColumns",
    "IngredientAnswer",
    "Interval",
    "Kind",
    "Knot",
    "Law",
    "LearnAnswer",
    "LearnDiagnostic",
    "LearnedParameter",
    "LoadAnswer",
    "Loads",
    "LogRow",
    "Look",
    "Message",
    "NextBake",
    "ParameterAnswer",
    "ParameterStanding",
    "Percentages",
    "PlanAnswer",
    "PlanWater",
    "Point",
    "PrefermentAnswer",
    "Purpose",
    "ReadyAnswer",
    "ReadyAt",
    "ReadyColumns",
    "Reason",
    "Refused",
    "Remark",
    "Row",
    "ScaleAnswer",
    "ScaleColumns",
    "Seen",
    "Slurry",
    "StageAnswer",
    "Standing",
    "Step",
    "TableAnswer",
    "TablesAnswer",
    "Task",
    "Termination",
    "Transform",
    "Uncertainty",
    "Until",
    "Value",
    "WaterAnswer",
    "WaterColumns",
    "WeighAnswer",
    "When",
    "Word",
    "YeastAnswer",
    "YeastKind",
    "adjust",
    "compare",
    "dose",
    "fit_rate",
    "friction",
    "ice",
    "learn",
    "plan",
    "ready",
    "scale",
    "tables",
    "water",
]


Action: TypeAlias = Mapping[str, Any]
"""What is done, under a code that stays."""


class AdjustAnswer(TypedDict):
    """Both plans under the keys of `plan`, their times in text or as `T`."""

    advice: Sequence[Remark]
    """What to do."""

    after: PlanAnswer
    """As it is now."""

    before: PlanAnswer
    """As it was."""

    changes: Sequence[Remark]
    """What changed, one for each measurement."""

    out_of_cold: When | None
    """When the dough comes out of the cold because it is done there before its time."""

    warnings: Sequence[Remark]
    """What to look out for now."""


class Amount(TypedDict):
    """Something that goes in."""

    mass_g: float
    """Mass, g. Water is less what a yeast slurry brings."""

    name: str
    """What the baker calls it."""

    pour_c: float | None
    """How warm it is poured, °C; missing where that is not set."""


Assumption: TypeAlias = Mapping[str, Any]
"""A note or a caution about one question."""


class Cause(TypedDict):
    """A change and what it does to a time."""

    change: Change
    """The change."""

    minutes: float
    """Minutes by which the stage becomes longer; negative is shorter."""


Caution: TypeAlias = Mapping[str, Any]
"""Where water or dough leaves common practice."""


Caution2: TypeAlias = Mapping[str, Any]
"""Where a dough stands beyond every published recipe of its kind."""


Change: TypeAlias = Literal['warmer-dough', 'warmer-room', 'more-yeast-at-mix', 'more-yeast-in-preferment']
"""A small change."""


class CompareAnswer(TypedDict):
    """A bake under several values of a condition, its times in text or as `T`."""

    condition: str
    """What varies."""

    notes: Sequence[Remark]
    """What to know."""

    rows: Sequence[CompareRow]
    """A row for each value."""

    unit: str
    """Its unit."""

    warnings: Sequence[Remark]
    """Always empty; what a row has to say is in its `why`."""


class CompareRow(TypedDict):
    """A bake under one value. What the bake does not have is null; where there is no plan, all but the
    first and the last two.
    """

    bulk_h: float | None
    """Time of the bulk."""

    feasible: bool
    """True when every load enters the oven inside its window."""

    first_out: When | None
    """The first load leaves the oven."""

    ice_g: float | None
    """Ice in it, g."""

    preferment_dose_percent: float | None
    """Yeast of the preferment, % of its own flour."""

    preferment_h: float | None
    """Time of the preferment until it is ripe."""

    proof_h: float | None
    """Time of the proof."""

    start: When | None
    """Work begins."""

    value: float
    """The value, in the unit of the condition."""

    water_c: float | None
    """Water to pour, °C."""

    why: str | None
    """Why there is no plan, or what in it does not fit."""


class CoreAnswer(TypedDict):
    """A dough at the end of a stage."""

    at: When
    """Its end."""

    core_c: float
    """Middle, °C."""

    mean_c: float
    """Mean, °C."""

    stage: str
    """The stage."""

    surface_c: float
    """Surface, °C."""


class DdtFormulaAnswer(TypedDict):
    """Answer of the DDT formula."""

    base_c: float
    """Base temperature: the sum itself."""

    friction_factor_c: NotRequired[float | None]
    """Friction factor; left out with a base and no dough."""

    ice_g: NotRequired[float | None]
    """Ice; only when the water is colder than the tap and its mass is known."""

    real_rise_c: NotRequired[float | None]
    """Rise of the dough that this friction means."""

    tap_g: NotRequired[float | None]
    """Tap water beside the ice."""

    terms: int
    """Temperatures in the sum, 3 or 4."""

    water_c: float
    """Water; below 0 °C the pour needs ice."""


class DoseAnswer(TypedDict):
    """The dose. Every percentage is of the stage's own flour."""

    dose_percent: float
    """The dose, in the kind of yeast asked for."""

    dough_end_c: float
    """Temperature of the dough then."""

    for_h: float
    """Time from the mix until then."""

    fresh_percent: float
    """The same as fresh yeast."""

    kind: Kind
    """What it is."""

    notes: Sequence[Remark]
    """What was assumed."""

    proportional_difference_percent: float | None
    """How much more that is than the dose, % of the dose."""

    proportional_percent: float | None
    """What the rule of thumb `dose x time = constant` gives: from the working recipe, or without one the
    dose if yeast did not multiply; null when no dose does it.
    """

    proportional_reason: Remark | None
    """Why the two differ."""

    range_percent: Sequence[float] | None
    """Where the right dose lies four times out of five (10 to 90 %); null when it cannot be said."""

    until: str
    """`ripe`, `doubled`, or `own-recipe` where the working recipe says when it is done."""

    warnings: Sequence[Remark]
    """Cautions."""

    weigh: WeighAnswer | None
    """How to weigh it when it is too little for the scale."""

    yeast: YeastKind
    """Kind of that yeast."""

    yeast_g: float | None
    """The yeast to weigh; null without a mass of flour."""


class DoseAt(TypedDict):
    """A dose somewhere."""

    dose_percent: float
    """% of the flour of that stage; at the mix, of all flour."""

    per_litre_g: float | None
    """g per litre of the water of that stage, as some recipes count."""

    weigh: str | None
    """How to weigh it when it is too small for the scale."""

    yeast_g: float
    """Mass, g."""


ErrorKind: TypeAlias = Literal['out-of-range', 'not-finite', 'text', 'unknown-name', 'malformed', 'contradiction', 'unreachable', 'law-range', 'not-settled', 'left-out', 'fault']
"""What went wrong: the kinds of an [`Error`], and no others."""


Finding: TypeAlias = Mapping[str, Any]
"""A note, a warning, a problem, a change or an advice: which of them, says the list it stands in."""


FitLaw: TypeAlias = Literal['cardinal', 'square-root', 'sharpe-schoolfield', 'q10', 'arrhenius']
"""A temperature law that can be fitted."""


class FitRateAnswer(TypedDict):
    """The fitted law."""

    aic: float | None
    """Akaike's criterion; missing where the points lie on the curve to the last digit."""

    aicc: float | None
    """The same with the correction for few points; missing where there are too few."""

    law: FitLaw
    """The law."""

    parameters: Sequence[ParameterAnswer]
    """Its parameters."""

    refused: Sequence[Refused]
    """Rows that could not be used."""

    residual_sd: float | None
    """Residual standard deviation on that scale; missing without a degree of freedom."""

    rows_used: int
    """Points used."""

    rss: float
    """Sum of squares, on the scale of the residuals."""

    stop: Termination
    """How the fit ended."""

    transform: Transform
    """The scale of the residuals."""

    valid_c: Sequence[float]
    """Coldest and warmest point, °C: the law holds between them."""

    warnings: Sequence[Remark]
    """What the points cannot tell."""


class FittedRow(TypedDict):
    """A row and what the learned parameters make of it."""

    kind: Kind
    """What it was."""

    line: int
    """Line of the log."""

    predicted_h: float
    """When it should have been ready, h."""

    residual_min: float | None
    """Seen minus predicted, minutes; `None` for a row of which only one side is known."""

    seen: Seen
    """What was seen."""

    seen_h: float
    """When, h."""

    standardised: float
    """The same in log time over the scatter; of a one-sided row how far it is on the wrong side, or 0."""

    weight: float
    """Probability that it is not mistyped: below 0.5 it counts for little."""


class Forecast(TypedDict):
    """When the dough of a row is ready."""

    before_h: float
    """Hours by the numbers that learning began from."""

    kind: Kind
    """What it is."""

    line: int
    """Line of the row."""

    now_h: float
    """Hours by those that were learned."""

    range_h: Sequence[float] | None
    """Where a new one of its kind lies four times out of five (10 to 90 %); `None` where the fit did not
    settle.
    """


class FrictionAnswer(TypedDict):
    """Friction on both scales."""

    base_c: float
    """Base temperature that this dough and this friction make."""

    real_rise_c: float
    """Rise of the dough itself: the sum scale over the number of terms."""

    sum_scale_c: float
    """Friction factor of the DDT formula."""

    terms: int
    """Temperatures in the sum, 3 or 4."""

    warnings: Sequence[Remark]
    """Cautions."""


FrictionDiagnostic: TypeAlias = Mapping[str, Any]
"""What a log of mixes cannot tell. A `heat` is a speed's name, `wetting` or `mix`."""


Grade: TypeAlias = Literal['A', 'B', 'C', 'M']
"""What kind of publication a row comes from."""


class HeatBalanceAnswer(TypedDict):
    """Answer of the heat balance."""

    dough_per_water: float
    """Kelvin that the dough moves for each kelvin of water."""

    hydration_rise_c: float
    """Rise of the dough by wetting of the flour."""

    ice_g: NotRequired[float | None]
    """Ice; only when the water is colder than the tap."""

    mixing_rise_c: float
    """Rise of the dough by the mixer."""

    rest_end_c: NotRequired[float | None]
    """First mix at the end of the rest."""

    rest_start_c: NotRequired[float | None]
    """First mix at the start of the rest."""

    tap_g: NotRequired[float | None]
    """Tap water beside the ice."""

    water_c: float
    """(First) water; below 0 °C the pour needs ice."""


class IceAnswer(TypedDict):
    """Ice and tap water to weigh."""

    ice_g: float
    """Ice."""

    tap_g: float
    """Tap water."""

    warnings: Sequence[Remark]
    """Cautions."""


class IngredientAnswer(TypedDict):
    """One line of the list to weigh."""

    mass_g: float
    """How much, g; 0 for yeast whose dose is still to be found."""

    name: str
    """What the baker calls it."""

    stage: str
    """`preferment`, `mix` or `bassinage`."""


Interval: TypeAlias = Sequence[float]
"""A pair of bounds; both are the same where the source gives one number."""


Kind: TypeAlias = Literal['poolish', 'biga', 'sponge', 'old-dough', 'dough']
"""A dough with an end point of its own."""


class Knot(TypedDict):
    """A point of a tabulated law."""

    relative_rate: float
    """Speed against that at the reference temperature."""

    standing: Standing
    """How the speed was come by."""

    temperature_c: float
    """Temperature, °C."""


Law: TypeAlias = Literal['q10', 'arrhenius', 'square-root', 'cardinal', 'tabulated']
"""The temperature law that a table gives the parameters of."""


class LearnAnswer(TypedDict):
    """What the log taught."""

    estimates: Sequence[LearnedParameter]
    """The parameters before and after."""

    forecasts: Sequence[Forecast]
    """For the last row of each kind, what the numbers said before and what they say now."""

    largest: Sequence[int]
    """Lines of the three rows farthest off."""

    next_bake: NotRequired[NextBake | None]
    """The bake to log next, of the kinds in the log; none where the fit did not settle."""

    notes: Sequence[Remark]
    """Whose numbers the learning began from, and the doses and temperatures that the log holds."""

    params_toml: str
    """The numbers learned, as the text of a parameter file: `params_toml` of later questions."""

    refused: Sequence[Refused]
    """Rows that could not be used."""

    rows: Sequence[FittedRow]
    """The rows with their residuals."""

    rows_used: int
    """Rows used."""

    scatter: float
    """Scatter of a single time, in log time."""

    stop: Termination
    """How the fit ended."""

    warnings: Sequence[Remark]
    """What this log cannot tell, and what is odd about it."""


LearnDiagnostic: TypeAlias = Mapping[str, Any]
"""What a log cannot tell, or what is odd about it. A `parameter` has its name in a parameter file."""


class LearnedParameter(TypedDict):
    """A parameter before and after."""

    moved: float
    """How far it moved, in prior standard deviations."""

    name: str
    """Its name, as in a parameter file."""

    on_log_scale: bool
    """True where the errors are those of the logarithm."""

    prior: float
    """Before."""

    prior_sd: float
    """Standard deviation before: of the logarithm where `on_log_scale`."""

    standard_error: float | None
    """Standard error after, on the same scale; `None` where the log does not tell the parameter."""

    told: float
    """Share of the prior variance that the log took away, 0 to 1."""

    value: float
    """After."""


class LoadAnswer(TypedDict):
    """A load."""

    divide: When
    """Dividing begins."""

    dough_c: float
    """Dough on entering, °C."""

    in_window: bool
    """The ripeness lies in the window."""

    number: int
    """Counted from 1."""

    oven_in: When
    """Enters the oven."""

    oven_out: When
    """Leaves it."""

    past_chance: float | None
    """Chance to be past the window on entering, 0 to 1."""

    pieces: int
    """Pieces in it."""

    retarder: Sequence[When] | None
    """Held in the retarder from and until."""

    ripeness: float
    """Share of the proof's end point on entering."""

    ripeness_first_and_last: Sequence[float]
    """The same of its pieces shaped first and last."""

    ripeness_range: Sequence[float] | None
    """The same of the load, 10-90 %."""

    shape: When
    """Shaping begins."""

    waits_min: Sequence[float]
    """How long it waits beyond what the first load does, min: in bulk, at rest, in the cold."""


class Loads(TypedDict):
    """Neighbouring loads of the oven."""

    first: int
    """The first of them, counted from 1."""

    last: int
    """The last of them."""

    of: int
    """All loads of the bake."""

    pieces: int
    """Pieces in them."""


class LogRow(TypedDict):
    """A row of a log: a dough, where it stood, and what was seen of it."""

    date: NotRequired[str | None]
    """Free text."""

    flour_g: float | str
    """Its own flour."""

    hours: float | str
    """From mixing to what was seen."""

    kind: Kind
    """What it is."""

    note: NotRequired[str | None]
    """Free text."""

    room_record: NotRequired[str | None]
    """Or the name of its room in `rooms`."""

    salt_g: NotRequired[float | str | None]
    """Its own salt; none when left out."""

    seen: Word
    """What was seen."""

    temperature_c: NotRequired[float | str | None]
    """The temperature that the dough was held about; with a record, that at its mix."""

    water_g: float | str
    """Its own water."""

    yeast: YeastKind
    """Kind of yeast."""

    yeast_g: float | str
    """How much of it."""


Look: TypeAlias = Mapping[str, Any]
"""What to look for before a step is done, or right after it."""


Message: TypeAlias = str
"""A sentence for a person: it can be shown, and nothing else."""


class NextBake(TypedDict):
    """The bake to log next."""

    expected_h: float
    """When it should be ready, h."""

    fresh_percent: float
    """With how much yeast as fresh, % of its flour."""

    kind: Kind
    """What."""

    log_sd_now: float
    """Mean error of a prediction over all offers as it is, in log time, scatter not counted."""

    log_sd_then: float
    """And after this bake."""

    temperature_c: float
    """Held at, °C."""


class ParameterAnswer(TypedDict):
    """A parameter of the law."""

    correlations: Sequence[float | None]
    """Correlations with the parameters in order; missing where there is none."""

    name: str
    """Its name; a rate has the unit of the data."""

    standard_error: float | None
    """Standard error; missing where the points give none."""

    standing: ParameterStanding
    """What the points say about it."""

    value: float
    """Its value."""


ParameterStanding: TypeAlias = Literal['determined', 'undetermined']
"""What the data say about a parameter."""


class Percentages(TypedDict):
    """The formula, percent of all flour."""

    bassinage_percent: float

    dough_percent: float
    """All dough."""

    fat_percent: float

    hydration_percent: float

    old_dough_percent: float

    preferment_flour_percent: float

    salt_percent: float

    sugar_percent: float

    yeast_percent: float
    """All yeast that is weighed, in the preferment and at the mix."""


class PlanAnswer(TypedDict):
    """A plan with its times as clock times in text, or as `T`."""

    bulk_share: float
    """How far the bulk comes, as a share of doubled."""

    cores: Sequence[CoreAnswer]
    """Core and surface of a bulk too thick to be one temperature."""

    dough_g: float
    """All dough, g."""

    feasible: bool
    """True when every load enters the oven inside its window."""

    folds: Sequence[When]
    """When to fold."""

    ingredients: Sequence[IngredientAnswer]
    """What to weigh."""

    loads: Sequence[LoadAnswer]
    """Loads of the oven."""

    name: str
    """Name of the bake."""

    nearest: Remark | None
    """The nearest plan that does."""

    notes: Sequence[Remark]
    """What to know."""

    preferment: PrefermentAnswer | None
    """The preferment, if there is one."""

    preferment_times: float
    """How many times the preferment among `ingredients` is made: 1, or more when another dough gets its
    part (`extra_preferment_g`). `preferment_water` and `yeast.preferment` are of all that is made.
    """

    preferment_water: PlanWater | None
    """Water of the preferment's own mix."""

    preheat: When | None
    """When the oven is turned on, where it needs time to heat."""

    problem: Sequence[Remark]
    """What does not fit."""

    reasons: Sequence[Reason]
    """What moves the times most; empty unless the plan was asked for it."""

    stages: Sequence[StageAnswer]
    """Stages of the first load; each ends when the next begins."""

    steps: Sequence[Step]
    """Everything that is done, by its hour."""

    warnings: Sequence[Remark]
    """What to look out for."""

    water: PlanWater
    """Water of the dough, by both methods."""

    yeast: YeastAnswer
    """Yeast, wherever it goes in."""


class PlanWater(TypedDict):
    """Water for a mix, under the same keys as in the answer of `water`."""

    ddt_formula: DdtFormulaAnswer | None
    """Sum rule."""

    dough_c: float
    """Dough wanted, °C."""

    heat_balance: HeatBalanceAnswer | None
    """Heat balance."""

    water_g: float
    """The (first) water, g."""


class Point(TypedDict):
    """A measured growth rate."""

    growth_rate_per_h: float
    """Specific growth rate, 1/h."""

    temperature_c: float
    """Temperature, °C."""


class PrefermentAnswer(TypedDict):
    """The preferment."""

    mixed: When
    """Mixed."""

    ripe: When
    """Ripe."""

    ripe_range: Sequence[When] | None
    """When it is likely to be ripe, 10-90 %."""

    used: When
    """Used."""

    window: Sequence[When | None]
    """It may be used from and until; the end is missing when it never falls."""


Purpose: TypeAlias = Literal['fit', 'held-out', 'excluded']
"""What a row is for."""


class ReadyAnswer(TypedDict):
    """Hours from the mix."""

    dough_end_c: float
    """Temperature of the dough at the end point."""

    kind: Kind
    """What it is."""

    notes: Sequence[Remark]
    """What was assumed."""

    range_h: Sequence[float] | None
    """Where it lies four times out of five (10 to 90 %); null when it cannot be said."""

    ready_h: float
    """The end point."""

    until: Until
    """When it counts as done."""

    warnings: Sequence[Remark]
    """Cautions."""

    window_h: tuple[float, float | None]
    """From when to when it may be used; the end is null when it does not begin to fall."""


class ReadyAt(TypedDict):
    """When a dough is ready for a step, or by a step."""

    at: When
    """By the plan."""

    likely: Sequence[When] | None
    """4 times in 5 between these; a low end equal to the stage's start says that it may be ready by then."""

    usable: tuple[When, When | None] | None
    """It may be used from and until; the end is missing when it never falls. Known of a preferment."""


class Reason(TypedDict):
    """A time and what moves it most."""

    causes: Sequence[Cause]
    """The three causes that matter most, the strongest first."""

    stage: str
    """`preferment`, `bulk` or `proof`: the end of that stage."""


class Refused(TypedDict):
    """A row that could not be used, and why."""

    column: str
    """Column as the header names it; empty when the whole row is meant."""

    line: int
    """Line of the log, the header being line 1."""

    why: str
    """What is wrong and how to mend it."""


class Remark(TypedDict):
    """A finding and its sentence."""

    text: Message
    """The same in words."""


class Row(TypedDict):
    """A recipe with a time: this dose at this temperature is ready after so many hours."""

    dose_percent: Interval | None
    """Fresh yeast, % of the stage's own flour; `None` where the source gives no dose."""

    grade: Grade
    """Kind of publication: `A` textbook or institute, `B` trade, `C` blog or forum, `M` from memory."""

    hours: Interval
    """Time to the end point, h."""

    hydration_percent: float | None
    """Water, % of the stage's own flour."""

    id: str
    """Name within the table."""

    locus: str
    """Page, table or address."""

    note: str
    """Why it is used so, and what was converted or assumed."""

    proof_hours: Interval | None
    """Time of the final proof that follows, h."""

    proof_temperature_c: Interval | None
    """Temperature of that final proof, °C."""

    salt_percent: float | None
    """Salt, % of the stage's own flour."""

    source: str
    """Key of the publication, see [`source`]; in an answer of `tables` the publication in one line."""

    standing: Standing
    """How the row was come by."""

    temperature_c: Interval
    """Temperature of the stage, °C."""

    use: Purpose
    """What the row is for."""


class ScaleAnswer(TypedDict):
    """What to weigh for a number of pieces."""

    baked_g: NotRequired[float | None]
    """All pieces out of the oven, g, if the bake gives its loss."""

    baked_piece_g: NotRequired[float | None]
    """One piece out of the oven, g, if the bake gives its loss."""

    dough_g: float
    """All dough made, g."""

    flour_g: float
    """All flour, that of preferment and old dough included, g."""

    ingredients: Sequence[IngredientAnswer]
    """What to weigh, in the order of work; adds up to `dough_g`."""

    name: str
    """Name of the bake."""

    percentages: Percentages
    """The formula on all flour."""

    piece_g: float
    """Dough of one piece, g."""

    pieces: int
    """Number of pieces."""

    scrap_g: float
    """The part of it left in the tub and on the hands, g."""

    warnings: Sequence[Remark]
    """What to keep in mind."""

    water_g: float
    """All water, that of preferment and old dough included, g."""


Seen: TypeAlias = Literal['ready', 'not-yet', 'past']
"""What was seen at the hour of a row."""


class Slurry(TypedDict):
    """How to weigh yeast that is too little for the scale."""

    goes_into: str
    """The mix that it goes into, such as `poolish` or `mix`."""

    water_g: float
    """Water to stir it into, g."""

    weigh_in_g: float
    """How much of the mixture goes in, g."""

    yeast_g: float
    """Yeast to weigh, g."""


class StageAnswer(TypedDict):
    """A stage of the first load."""

    dough_end_c: float | None
    """Dough at the end, °C."""

    dough_start_c: float | None
    """Dough at the start, °C."""

    end: When
    """End."""

    end_range: Sequence[When] | None
    """When it is likely to end, 10-90 %, not before its start; missing where the clock ends it, or when
    the plan was not asked for it.
    """

    name: str
    """Name."""

    start: When
    """Start."""


Standing: TypeAlias = Literal['quoted', 'derived', 'assumed', 'from-memory']
"""How a number was come by."""


class Step(TypedDict):
    """A step."""

    action: Action
    """What is done."""

    alarm: bool
    """It is worth an alarm: hands are needed, and it is no fridge move beside another step."""

    amounts: Sequence[Amount]
    """What goes in."""

    end: When
    """It is done; the same as `start` for what takes a moment."""

    hands: bool
    """Somebody has to be there."""

    key: str
    """A name that stays the same when the plan moves, such as `fold-2` or `load-3-in`."""

    look: Look | None
    """What to look for."""

    look_for: Message | None
    """What to look for, in words."""

    place_c: float | None
    """The place where the dough stands next, where that has one temperature, °C."""

    ready: ReadyAt | None
    """When the preferment that it starts is ripe, or the dough that it ends is ready."""

    slurry: Slurry | None
    """How to weigh yeast that is too little for the scale."""

    start: When
    """It begins."""

    text: Message
    """The action in words."""

    until: When | None
    """What it starts lasts until then: a rest, a stay in the cold, the baking."""


class TableAnswer(TypedDict):
    """A table with the full text of its sources in place of their keys."""

    id: str
    """Unique name; of an embedded table also the name of its file."""

    knots: NotRequired[Sequence[Knot]]
    """Points of a tabulated law, by rising temperature."""

    law: NotRequired[Law | None]
    """The temperature law that the values are the parameters of, if they are."""

    locus: str
    """Page, table or address."""

    note: str
    """Deviations from the source, and what belongs together."""

    observed: str
    """What was measured, on what, and how."""

    points: NotRequired[Sequence[Point]]
    """Measured growth rates, by rising temperature."""

    rows: NotRequired[Sequence[Row]]
    """Recipes with a time, in the order of the file."""

    source: str
    """Key of the publication, see [`source`]; in a user's own file any text."""

    standing: Standing
    """How most of the values were come by."""

    title: str
    """The content in one sentence."""

    valid_c: NotRequired[Interval | None]
    """Temperatures between which the observations lie, °C."""

    values: Sequence[Value]
    """The values, in the order of the file."""

    warnings: Sequence[Remark]
    """What not to rely on."""


TablesAnswer: TypeAlias = Mapping[str, Any]
"""The answer to `tables`."""


Task: TypeAlias = Literal['preferment', 'autolyse', 'mix', 'dough-into-cold', 'dough-from-cold', 'fold', 'divide', 'shape', 'into-cold', 'from-cold', 'preheat', 'into-oven', 'from-oven']
"""What is done."""


Termination: TypeAlias = Literal['converged', 'out-of-steps', 'not-a-number']
"""Why a fit ended."""


Transform: TypeAlias = Literal['none', 'sqrt']
"""The scale on which residuals are taken."""


Uncertainty: TypeAlias = Mapping[str, Any]
"""How well a value is known."""


Until: TypeAlias = Literal['ripe', 'doubled']
"""When a stage counts as done."""


class Value(TypedDict):
    """One number with its unit, uncertainty and origin."""

    locus: str
    """Page, table or address."""

    name: str
    """Name; ends in the unit."""

    note: str
    """What to know before relying on it; may be empty."""

    source: str
    """Key of the publication, see [`source`]; in a user's own file any text."""

    standing: Standing
    """How the number was come by."""

    uncertainty: Uncertainty
    """How well the number is known."""

    unit: str
    """The unit in print, such as `1/h`; `1` for a ratio."""

    value: float
    """The number, in `unit`."""


class WaterAnswer(TypedDict):
    """Both methods side by side."""

    ddt_formula: DdtFormulaAnswer | None
    """Answer of the desired-dough-temperature (DDT) formula; null without friction or base."""

    difference_c: float | None
    """Water of the balance less water of the DDT formula; null unless both answer."""

    difference_reason: Remark | None
    """Why the two differ."""

    heat_balance: HeatBalanceAnswer | None
    """Answer of the heat balance; null without masses."""

    notes: Sequence[Remark]
    """What was assumed, and why a method is null."""

    warnings: Sequence[Remark]
    """Cautions."""


class WeighAnswer(TypedDict):
    """So much yeast in so much of the formula's own water; use so much of it."""

    left_g: float
    """What is thrown away."""

    take_g: float
    """How much of that to use."""

    water_g: float
    """Water to stir it into."""

    water_taken_g: float
    """Water in it, to be weighed less into the dough."""

    words: Message
    """The same in words."""

    yeast_g: float
    """Yeast to weigh."""


When: TypeAlias = str | float
"""A time of an answer."""


Word: TypeAlias = Literal['ripe', 'doubled', 'not-yet', 'past']
"""What was seen, as it is written in a log."""


class YeastAnswer(TypedDict):
    """Yeast."""

    kind: str
    """Its kind."""

    mix: DoseAt | None
    """At the mix."""

    preferment: DoseAt | None
    """In the preferment."""


YeastKind: TypeAlias = Literal['fresh', 'instant', 'active-dry']
"""The form in which baker's yeast is bought."""


class ScaleColumns(TypedDict):
    """Answers of `scale` to arrays: NaN where there is no number, and the errors, None where there is
    none.
    """
    piece_g: Numbers
    dough_g: Numbers
    scrap_g: Numbers
    flour_g: Numbers
    water_g: Numbers
    baked_g: Numbers
    baked_piece_g: Numbers
    error: Errors


@overload
def scale(
    bake: Mapping[str, Any] | str | PathLike[str],
    *,
    piece_g: float | str | None = None,
    pieces: int | None = None,
) -> ScaleAnswer: ...
@overload
def scale(
    bake: Mapping[str, Any] | str | PathLike[str],
    *,
    piece_g: float | str | None | Array = None,
    pieces: int | None | Array = None,
) -> ScaleColumns: ...
def scale(
    bake: Mapping[str, Any] | str | PathLike[str],
    *,
    piece_g: float | str | None | Array = None,
    pieces: int | None | Array = None,
) -> Any:
    """A bake and another number of pieces, or other pieces, of it.

    Parameters
    ----------
    bake : dict, str or path
        The bake: a dict with the keys of a bake file, its text, or its path
    piece_g : float | str, optional
        Dough of one piece, in place of the bake's
    pieces : int, optional
        Number of pieces, in place of the bake's

    Returns
    -------
    ScaleAnswer
        A dict; with arrays among the parameters ScaleColumns, whose values are arrays.

    Raises
    ------
    PointageError
        What cannot be answered, with `code` and `field`.
    """
    return _ask("scale", _with_bake(locals()))


class WaterColumns(TypedDict):
    """Answers of `water` to arrays: NaN where there is no number, and the errors, None where there is
    none.
    """
    ddt_formula_water_c: Numbers
    ddt_formula_base_c: Numbers
    ddt_formula_friction_factor_c: Numbers
    ddt_formula_real_rise_c: Numbers
    ddt_formula_ice_g: Numbers
    ddt_formula_tap_g: Numbers
    heat_balance_water_c: Numbers
    heat_balance_dough_per_water: Numbers
    heat_balance_hydration_rise_c: Numbers
    heat_balance_mixing_rise_c: Numbers
    heat_balance_rest_start_c: Numbers
    heat_balance_rest_end_c: Numbers
    heat_balance_ice_g: Numbers
    heat_balance_tap_g: Numbers
    difference_c: Numbers
    error: Errors


@overload
def water(
    *,
    base_c: float | str | None = None,
    bassinage_c: float | str | None = None,
    bassinage_g: float | str | None = None,
    bowl_c: float | str | None = None,
    bowl_mass_g: float | str | None = None,
    dough_c: float | str | None = None,
    flour_c: float | str | None = None,
    flour_mass_g: float | str | None = None,
    flour_moisture_percent: float | str | None = None,
    friction_factor_c: float | str | None = None,
    hydration_heat_kj_per_kg: float | None = None,
    ice_c: float | str | None = None,
    mixing_heat_kj_per_kg: float | None = None,
    preferment_c: float | str | None = None,
    preferment_heat_capacity_kj_per_kg_k: float | None = None,
    preferment_hydration_percent: float | str | None = None,
    preferment_mass_g: float | str | None = None,
    rest_h: float | str | None = None,
    rest_room_c: float | str | None = None,
    rest_time_constant_h: float | str | None = None,
    room_c: float | str | None = None,
    salt_c: float | str | None = None,
    salt_mass_g: float | str | None = None,
    tap_c: float | str | None = None,
    water_mass_g: float | str | None = None,
    yeast_c: float | str | None = None,
    yeast_mass_g: float | str | None = None,
) -> WaterAnswer: ...
@overload
def water(
    *,
    base_c: float | str | None | Array = None,
    bassinage_c: float | str | None | Array = None,
    bassinage_g: float | str | None | Array = None,
    bowl_c: float | str | None | Array = None,
    bowl_mass_g: float | str | None | Array = None,
    dough_c: float | str | None | Array = None,
    flour_c: float | str | None | Array = None,
    flour_mass_g: float | str | None | Array = None,
    flour_moisture_percent: float | str | None | Array = None,
    friction_factor_c: float | str | None | Array = None,
    hydration_heat_kj_per_kg: float | None | Array = None,
    ice_c: float | str | None | Array = None,
    mixing_heat_kj_per_kg: float | None | Array = None,
    preferment_c: float | str | None | Array = None,
    preferment_heat_capacity_kj_per_kg_k: float | None | Array = None,
    preferment_hydration_percent: float | str | None | Array = None,
    preferment_mass_g: float | str | None | Array = None,
    rest_h: float | str | None | Array = None,
    rest_room_c: float | str | None | Array = None,
    rest_time_constant_h: float | str | None | Array = None,
    room_c: float | str | None | Array = None,
    salt_c: float | str | None | Array = None,
    salt_mass_g: float | str | None | Array = None,
    tap_c: float | str | None | Array = None,
    water_mass_g: float | str | None | Array = None,
    yeast_c: float | str | None | Array = None,
    yeast_mass_g: float | str | None | Array = None,
) -> WaterColumns: ...
def water(
    *,
    base_c: float | str | None | Array = None,
    bassinage_c: float | str | None | Array = None,
    bassinage_g: float | str | None | Array = None,
    bowl_c: float | str | None | Array = None,
    bowl_mass_g: float | str | None | Array = None,
    dough_c: float | str | None | Array = None,
    flour_c: float | str | None | Array = None,
    flour_mass_g: float | str | None | Array = None,
    flour_moisture_percent: float | str | None | Array = None,
    friction_factor_c: float | str | None | Array = None,
    hydration_heat_kj_per_kg: float | None | Array = None,
    ice_c: float | str | None | Array = None,
    mixing_heat_kj_per_kg: float | None | Array = None,
    preferment_c: float | str | None | Array = None,
    preferment_heat_capacity_kj_per_kg_k: float | None | Array = None,
    preferment_hydration_percent: float | str | None | Array = None,
    preferment_mass_g: float | str | None | Array = None,
    rest_h: float | str | None | Array = None,
    rest_room_c: float | str | None | Array = None,
    rest_time_constant_h: float | str | None | Array = None,
    room_c: float | str | None | Array = None,
    salt_c: float | str | None | Array = None,
    salt_mass_g: float | str | None | Array = None,
    tap_c: float | str | None | Array = None,
    water_mass_g: float | str | None | Array = None,
    yeast_c: float | str | None | Array = None,
    yeast_mass_g: float | str | None | Array = None,
) -> Any:
    """The water for a desired dough temperature.

    The desired-dough-temperature (DDT) formula needs `flour_c`, `room_c` and either `friction_factor_c`
    with `dough_c`, or `base_c`. The heat balance needs `dough_c`, `flour_c`, `flour_mass_g` and
    `water_mass_g`.

    Parameters
    ----------
    base_c : float | str, optional
        Base temperature, the sum of the terms, in place of the friction factor
    bassinage_c : float | str, optional
        Temperature of the bassinage [default: the tap's]
    bassinage_g : float | str, optional
        Bassinage (held-back water), on top of the first water
    bowl_c : float | str, optional
        Temperature of the bowl [default: the room's]
    bowl_mass_g : float | str, optional
        Bowl, of steel
    dough_c : float | str, optional
        Desired dough temperature at the end of the mix
    flour_c : float | str, optional
        Flour
    flour_mass_g : float | str, optional
        Flour of this mix, without that of the preferment
    flour_moisture_percent : float | str, optional
        Moisture of the flour, from which its heat of hydration follows [default: 14%]
    friction_factor_c : float | str, optional
        Friction factor; a difference, so 20F is 11.1 °C
    hydration_heat_kj_per_kg : float, optional
        Heat of hydration, kJ per kg of flour, in place of its moisture
    ice_c : float | str, optional
        Temperature of the ice [default: 0]
    mixing_heat_kj_per_kg : float, optional
        Heat of mixing, kJ per kg of dough [default: 6]
    preferment_c : float | str, optional
        Preferment, the fourth term of the DDT formula
    preferment_heat_capacity_kj_per_kg_k : float, optional
        Heat capacity of the preferment, kJ/(kg K) [default: from its hydration]
    preferment_hydration_percent : float | str, optional
        Hydration of the preferment [default: that of a poolish]
    preferment_mass_g : float | str, optional
        Preferment
    rest_h : float | str, optional
        Rest between the first mix and salt, yeast and bassinage
    rest_room_c : float | str, optional
        Where it rests [default: the room]
    rest_time_constant_h : float | str, optional
        Time constant of the resting mass [default: that of a covered tub]
    room_c : float | str, optional
        Room; also stands in for the bowl and for the room of the rest
    salt_c : float | str, optional
        Temperature of the salt [default: the flour's]
    salt_mass_g : float | str, optional
        Salt
    tap_c : float | str, optional
        Tap, for the grams of ice
    water_mass_g : float | str, optional
        Water of this mix, without that of the preferment and the bassinage
    yeast_c : float | str, optional
        Temperature of the yeast [default: the flour's]
    yeast_mass_g : float | str, optional
        Yeast

    Returns
    -------
    WaterAnswer
        A dict; with arrays among the parameters WaterColumns, whose values are arrays.

    Raises
    ------
    PointageError
        What cannot be answered, with `code` and `field`.
    """
    return _ask("water", locals())


class IceColumns(TypedDict):
    """Answers of `ice` to arrays: NaN where there is no number, and the errors, None where there is none."""
    ice_g: Numbers
    tap_g: Numbers
    error: Errors


@overload
def ice(
    total_g: float | str,
    tap_c: float | str,
    want_c: float | str,
    *,
    ice_c: float | str | None = None,
) -> IceAnswer: ...
@overload
def ice(
    total_g: float | str | Array,
    tap_c: float | str | Array,
    want_c: float | str | Array,
    *,
    ice_c: float | str | None | Array = None,
) -> IceColumns: ...
def ice(
    total_g: float | str | Array,
    tap_c: float | str | Array,
    want_c: float | str | Array,
    *,
    ice_c: float | str | None | Array = None,
) -> Any:
    """A pour and the temperature it shall have.

    Parameters
    ----------
    total_g : float | str
        Ice and tap water together
    tap_c : float | str
        Temperature of the tap
    want_c : float | str
        Desired temperature of the pour; below 0 °C the last ice melts in the dough
    ice_c : float | str, optional
        Temperature of the ice [default: 0]

    Returns
    -------
    IceAnswer
        A dict; with arrays among the parameters IceColumns, whose values are arrays.

    Raises
    ------
    PointageError
        What cannot be answered, with `code` and `field`.
    """
    return _ask("ice", locals())


def friction(
    *,
    base_c: float | str | None = None,
    dough_c: float | str | None = None,
    flour_c: float | str | None = None,
    preferment_c: float | str | None = None,
    room_c: float | str | None = None,
    water_c: float | str | None = None,
) -> FrictionAnswer:
    """A mix as it was: either its temperatures, or the base temperature it was made by.

    Parameters
    ----------
    base_c : float | str, optional
        Base temperature, the sum of flour, room and water, in their place
    dough_c : float | str, optional
        Dough at the end of the mix
    flour_c : float | str, optional
        Flour
    preferment_c : float | str, optional
        Preferment, if there was one
    room_c : float | str, optional
        Room
    water_c : float | str, optional
        Water that was poured

    Returns
    -------
    FrictionAnswer
        A dict.

    Raises
    ------
    PointageError
        What cannot be answered, with `code` and `field`.
    """
    answer: FrictionAnswer = _ask("friction", locals())
    return answer


class DoseColumns(TypedDict):
    """Answers of `dose` to arrays: NaN where there is no number, and the errors, None where there is none."""
    dose_percent: Numbers
    fresh_percent: Numbers
    yeast_g: Numbers
    range_low_percent: Numbers
    range_high_percent: Numbers
    proportional_percent: Numbers
    proportional_difference_percent: Numbers
    weigh_yeast_g: Numbers
    weigh_water_g: Numbers
    weigh_take_g: Numbers
    weigh_water_taken_g: Numbers
    weigh_left_g: Numbers
    for_h: Numbers
    dough_end_c: Numbers
    error: Errors


@overload
def dose(
    kind: Kind,
    for_h: float | str,
    *,
    at_c: float | str | None = None,
    flour_mass_g: float | str | None = None,
    from_at_c: float | str | None = None,
    from_dose_percent: float | str | None = None,
    from_time_h: float | str | None = None,
    hydration_percent: float | str | None = None,
    mixed_at_c: float | str | None = None,
    params_toml: str | None = None,
    room_c: float | str | None = None,
    room_course: Sequence[Sequence[float]] | None = None,
    salt_percent: float | str | None = None,
    scale_step_g: float | str | None = None,
    until: Until | None = None,
    yeast: YeastKind | None = None,
) -> DoseAnswer: ...
@overload
def dose(
    kind: Kind | Array,
    for_h: float | str | Array,
    *,
    at_c: float | str | None | Array = None,
    flour_mass_g: float | str | None | Array = None,
    from_at_c: float | str | None | Array = None,
    from_dose_percent: float | str | None | Array = None,
    from_time_h: float | str | None | Array = None,
    hydration_percent: float | str | None | Array = None,
    mixed_at_c: float | str | None | Array = None,
    params_toml: str | None | Array = None,
    room_c: float | str | None | Array = None,
    room_course: Sequence[Sequence[float]] | None = None,
    salt_percent: float | str | None | Array = None,
    scale_step_g: float | str | None | Array = None,
    until: Until | None | Array = None,
    yeast: YeastKind | None | Array = None,
) -> DoseColumns: ...
def dose(
    kind: Kind | Array,
    for_h: float | str | Array,
    *,
    at_c: float | str | None | Array = None,
    flour_mass_g: float | str | None | Array = None,
    from_at_c: float | str | None | Array = None,
    from_dose_percent: float | str | None | Array = None,
    from_time_h: float | str | None | Array = None,
    hydration_percent: float | str | None | Array = None,
    mixed_at_c: float | str | None | Array = None,
    params_toml: str | None | Array = None,
    room_c: float | str | None | Array = None,
    room_course: Sequence[Sequence[float]] | None = None,
    salt_percent: float | str | None | Array = None,
    scale_step_g: float | str | None | Array = None,
    until: Until | None | Array = None,
    yeast: YeastKind | None | Array = None,
) -> Any:
    """The dose with which a stage is ripe in time.

    The temperature is either `at_c`, held, or `mixed_at_c` in a room (`room_c` or `room_course`) that
    the dough drifts towards while its own fermentation warms it. With `from_dose_percent`,
    `from_time_h` and `from_at_c` the end point is that of a recipe that works in the baker's own
    kitchen; without, the published one.

    Parameters
    ----------
    kind : Kind
        What it is: poolish, biga, sponge, old-dough or dough
    for_h : float | str
        Time from the mix until it is ripe, such as 12h
    at_c : float | str, optional
        Hold the dough at this temperature
    flour_mass_g : float | str, optional
        Flour of the stage, for the grams of yeast and the size of a drifting dough
    from_at_c : float | str, optional
        Temperature of your working recipe
    from_dose_percent : float | str, optional
        Dose of your working recipe, in the same kind of yeast
    from_time_h : float | str, optional
        Time that your working recipe takes
    hydration_percent : float | str, optional
        Water, percent of the stage's own flour [default: usual for its kind]
    mixed_at_c : float | str, optional
        Dough at the end of its mix; it then drifts toward the room
    params_toml : str, optional
        Fermentation parameters: the text of a file such as `learn` writes
    room_c : float | str, optional
        Room that stays at one temperature
    room_course : Sequence[Sequence[float]], optional
        Room as pairs of hours since the mix and °C, straight lines between them
    salt_percent : float | str, optional
        Salt, percent of the stage's own flour [default: usual for its kind]
    scale_step_g : float | str, optional
        Smallest step that the scale shows [default: 1g]
    until : Until, optional
        When it counts as done: ripe or doubled [default: doubled for dough and old-dough]
    yeast : YeastKind, optional
        Kind of yeast for every dose here: fresh, instant or active-dry [default: instant]

    Returns
    -------
    DoseAnswer
        A dict; with arrays among the parameters DoseColumns, whose values are arrays.

    Raises
    ------
    PointageError
        What cannot be answered, with `code` and `field`.
    """
    return _ask("dose", locals())


class ReadyColumns(TypedDict):
    """Answers of `ready` to arrays: NaN where there is no number, and the errors, None where there is
    none.
    """
    ready_h: Numbers
    range_low_h: Numbers
    range_high_h: Numbers
    window_open_h: Numbers
    window_close_h: Numbers
    dough_end_c: Numbers
    error: Errors


@overload
def ready(
    kind: Kind,
    dose_percent: float | str,
    *,
    at_c: float | str | None = None,
    flour_mass_g: float | str | None = None,
    hydration_percent: float | str | None = None,
    mixed_at_c: float | str | None = None,
    params_toml: str | None = None,
    room_c: float | str | None = None,
    room_course: Sequence[Sequence[float]] | None = None,
    salt_percent: float | str | None = None,
    until: Until | None = None,
    yeast: YeastKind | None = None,
) -> ReadyAnswer: ...
@overload
def ready(
    kind: Kind | Array,
    dose_percent: float | str | Array,
    *,
    at_c: float | str | None | Array = None,
    flour_mass_g: float | str | None | Array = None,
    hydration_percent: float | str | None | Array = None,
    mixed_at_c: float | str | None | Array = None,
    params_toml: str | None | Array = None,
    room_c: float | str | None | Array = None,
    room_course: Sequence[Sequence[float]] | None = None,
    salt_percent: float | str | None | Array = None,
    until: Until | None | Array = None,
    yeast: YeastKind | None | Array = None,
) -> ReadyColumns: ...
def ready(
    kind: Kind | Array,
    dose_percent: float | str | Array,
    *,
    at_c: float | str | None | Array = None,
    flour_mass_g: float | str | None | Array = None,
    hydration_percent: float | str | None | Array = None,
    mixed_at_c: float | str | None | Array = None,
    params_toml: str | None | Array = None,
    room_c: float | str | None | Array = None,
    room_course: Sequence[Sequence[float]] | None = None,
    salt_percent: float | str | None | Array = None,
    until: Until | None | Array = None,
    yeast: YeastKind | None | Array = None,
) -> Any:
    """When a stage is ripe: its yeast and its temperature.

    The temperature is either `at_c`, held, or `mixed_at_c` in a room (`room_c` or `room_course`) that
    the dough drifts towards while its own fermentation warms it.

    Parameters
    ----------
    kind : Kind
        What it is: poolish, biga, sponge, old-dough or dough
    dose_percent : float | str
        Yeast, percent of the stage's own flour
    at_c : float | str, optional
        Hold the dough at this temperature
    flour_mass_g : float | str, optional
        Flour of the stage; a large dough follows the room slowly [default: 1kg]
    hydration_percent : float | str, optional
        Water, percent of the stage's own flour [default: usual for its kind]
    mixed_at_c : float | str, optional
        Dough at the end of its mix; it then drifts toward the room
    params_toml : str, optional
        Fermentation parameters: the text of a file such as `learn` writes
    room_c : float | str, optional
        Room that stays at one temperature
    room_course : Sequence[Sequence[float]], optional
        Room as pairs of hours since the mix and °C, straight lines between them
    salt_percent : float | str, optional
        Salt, percent of the stage's own flour [default: usual for its kind]
    until : Until, optional
        When it counts as done: ripe or doubled [default: doubled for dough and old-dough]
    yeast : YeastKind, optional
        Kind of yeast: fresh, instant or active-dry [default: instant]

    Returns
    -------
    ReadyAnswer
        A dict; with arrays among the parameters ReadyColumns, whose values are arrays.

    Raises
    ------
    PointageError
        What cannot be answered, with `code` and `field`.
    """
    return _ask("ready", locals())


def plan(
    bake: Mapping[str, Any] | str | PathLike[str],
    *,
    date: str | None = None,
    first_out: str | None = None,
    last_out: str | None = None,
    mix_at: str | None = None,
    params_toml: str | None = None,
    rooms: Mapping[str, Sequence[Sequence[float]]] | None = None,
    start_at: str | None = None,
    utc_offset: str | None = None,
) -> PlanAnswer:
    """A bake and the one hour that is fixed.

    Exactly one hour is fixed: `first_out`, `last_out`, `start_at` or `mix_at`. With `date` and
    `utc_offset` the times of the answer are texts (RFC 3339), without them numbers: hours since
    midnight of the day of the fixed hour.

    Parameters
    ----------
    bake : dict, str or path
        The bake: a dict with the keys of a bake file, its text, or its path
    date : str, optional
        Day of that hour, such as `2026-11-28`
    first_out : str, optional
        The first load leaves the oven, such as `07:30`
    last_out : str, optional
        The last load leaves the oven
    mix_at : str, optional
        The dough is mixed
    params_toml : str, optional
        Fermentation parameters: the text of a file such as `learn` writes
    rooms : Mapping[str, Sequence[Sequence[float]]], optional
        The records of rooms that the bake names in `room_record`, each as pairs of hour and °C with
        straight lines between them. Hour 0 is that of `room_record_from`, or, without it, midnight of
        the day of the fixed hour
    start_at : str, optional
        Work begins: the preferment is mixed, or without one the dough
    utc_offset : str, optional
        What the clock of the answer is ahead of UTC, such as `+01:00`

    Returns
    -------
    PlanAnswer
        A dict.

    Raises
    ------
    PointageError
        What cannot be answered, with `code` and `field`.
    """
    answer: PlanAnswer = _ask("plan", _with_bake(locals()))
    return answer


def adjust(
    bake: Mapping[str, Any] | str | PathLike[str],
    measured: Sequence[str] | None = None,
    *,
    date: str | None = None,
    first_out: str | None = None,
    last_out: str | None = None,
    mix_at: str | None = None,
    params_toml: str | None = None,
    rooms: Mapping[str, Sequence[Sequence[float]]] | None = None,
    start_at: str | None = None,
    utc_offset: str | None = None,
) -> AdjustAnswer:
    """A bake that is under way, and what was measured of it.

    Exactly one hour is fixed: `first_out`, `last_out`, `start_at` or `mix_at`. With `date` and
    `utc_offset` the times of the answer are texts (RFC 3339), without them numbers: hours since
    midnight of the day of the fixed hour.

    Parameters
    ----------
    bake : dict, str or path
        The bake: a dict with the keys of a bake file, its text, or its path
    measured : Sequence[str], optional
        What was measured or seen, and when: `mix 27.4C 04:52`, `bulk rise 1.6 06:00` (in a straight-
        sided jar, against the dough off the mixer), `preferment ripe 04:10` (`unripe`, `past`)
    date : str, optional
        Day of that hour, such as `2026-11-28`
    first_out : str, optional
        The first load leaves the oven, such as `07:30`
    last_out : str, optional
        The last load leaves the oven
    mix_at : str, optional
        The dough is mixed
    params_toml : str, optional
        Fermentation parameters: the text of a file such as `learn` writes
    rooms : Mapping[str, Sequence[Sequence[float]]], optional
        The records of rooms that the bake names in `room_record`, each as pairs of hour and °C with
        straight lines between them. Hour 0 is that of `room_record_from`, or, without it, midnight of
        the day of the fixed hour
    start_at : str, optional
        Work begins: the preferment is mixed, or without one the dough
    utc_offset : str, optional
        What the clock of the answer is ahead of UTC, such as `+01:00`

    Returns
    -------
    AdjustAnswer
        A dict.

    Raises
    ------
    PointageError
        What cannot be answered, with `code` and `field`.
    """
    answer: AdjustAnswer = _ask("adjust", _with_bake(locals()))
    return answer


def compare(
    bake: Mapping[str, Any] | str | PathLike[str],
    vary: str | None = None,
    *,
    date: str | None = None,
    first_out: str | None = None,
    last_out: str | None = None,
    mix_at: str | None = None,
    params_toml: str | None = None,
    rooms: Mapping[str, Sequence[Sequence[float]]] | None = None,
    start_at: str | None = None,
    utc_offset: str | None = None,
) -> CompareAnswer:
    """A bake and a condition that varies.

    Exactly one hour is fixed: `first_out`, `last_out`, `start_at` or `mix_at`. With `date` and
    `utc_offset` the times of the answer are texts (RFC 3339), without them numbers: hours since
    midnight of the day of the fixed hour.

    Parameters
    ----------
    bake : dict, str or path
        The bake: a dict with the keys of a bake file, its text, or its path
    vary : str, optional
        The condition (`room`, `dough`, `flour`, `tap` in °C, `yeast` in % at the mix) and its span:
        `room=18..26`, or with a step `room=18..26..2`
    date : str, optional
        Day of that hour, such as `2026-11-28`
    first_out : str, optional
        The first load leaves the oven, such as `07:30`
    last_out : str, optional
        The last load leaves the oven
    mix_at : str, optional
        The dough is mixed
    params_toml : str, optional
        Fermentation parameters: the text of a file such as `learn` writes
    rooms : Mapping[str, Sequence[Sequence[float]]], optional
        The records of rooms that the bake names in `room_record`, each as pairs of hour and °C with
        straight lines between them. Hour 0 is that of `room_record_from`, or, without it, midnight of
        the day of the fixed hour
    start_at : str, optional
        Work begins: the preferment is mixed, or without one the dough
    utc_offset : str, optional
        What the clock of the answer is ahead of UTC, such as `+01:00`

    Returns
    -------
    CompareAnswer
        A dict.

    Raises
    ------
    PointageError
        What cannot be answered, with `code` and `field`.
    """
    answer: CompareAnswer = _ask("compare", _with_bake(locals()))
    return answer


def learn(
    log_csv: str | None = None,
    *,
    date: str | None = None,
    log_name: str | None = None,
    offer_at_c: Sequence[float | str] | None = None,
    offer_fresh_percent: Sequence[float | str] | None = None,
    params_toml: str | None = None,
    rooms: Mapping[str, Sequence[Sequence[float]]] | None = None,
    rows: Sequence[LogRow] | None = None,
    scatter: float | None = None,
) -> LearnAnswer:
    """A log and what to do with it. The log is either `log_csv` or `rows`.

    Parameters
    ----------
    log_csv : str, optional
        The log as CSV text: columns `kind`, `flour_g`, `water_g`, `salt_g`, `yeast`, `yeast_g`,
        `temperature_c` or `room_record`, `hours`, `seen`; see [`Log::from_csv`]
    date : str, optional
        Day of the learning, for the same head; today without it
    log_name : str, optional
        Name of the log, for the head of the parameter file
    offer_at_c : Sequence[float | str], optional
        Temperatures that you could log next, such as 16,20 [default: usual ones]
    offer_fresh_percent : Sequence[float | str], optional
        Doses that you could log next, as fresh yeast, such as 0.2%,0.4% [default: usual ones]
    params_toml : str, optional
        Fermentation parameters to begin from: the text of a file; the shipped ones without it
    rooms : Mapping[str, Sequence[Sequence[float]]], optional
        The rooms that the log names in `room_record`, each as pairs of hours since the mix and °C,
        straight lines between them
    rows : Sequence[LogRow], optional
        The log as rows. In the answer the first is line 2, as in a file with a header
    scatter : float, optional
        Scatter of a single time, in log time, when it is known

    Returns
    -------
    LearnAnswer
        A dict.

    Raises
    ------
    PointageError
        What cannot be answered, with `code` and `field`.
    """
    answer: LearnAnswer = _ask("learn", locals())
    return answer


def fit_rate(
    data_csv: str,
    law: FitLaw,
    *,
    transform: Transform | None = None,
) -> FitRateAnswer:
    """Speeds and the law to fit.

    Parameters
    ----------
    data_csv : str
        The points as CSV text, columns `temperature_c` and `rate`, see [`read_speeds`]
    law : FitLaw
        cardinal, square-root, sharpe-schoolfield, q10 or arrhenius
    transform : Transform, optional
        The scale of the residuals [default: that of the speeds themselves]

    Returns
    -------
    FitRateAnswer
        A dict.

    Raises
    ------
    PointageError
        What cannot be answered, with `code` and `field`.
    """
    answer: FitRateAnswer = _ask("fit-rate", locals())
    return answer


def tables(
    id: str | None = None,
) -> TablesAnswer:
    """Which table; all of them when left out.

    Parameters
    ----------
    id : str, optional
        Name of a table

    Returns
    -------
    TablesAnswer
        A dict.

    Raises
    ------
    PointageError
        What cannot be answered, with `code` and `field`.
    """
    answer: TablesAnswer = _ask("tables", locals())
    return answer
