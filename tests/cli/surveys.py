"""A finished survey with plain numbers, made by hand."""

from dataclasses import replace

from digitizer.survey.model import (
    Adjustment,
    Dimension,
    Finding,
    FittingResult,
    PhotoResult,
    Quantity,
    Severity,
    Survey,
    TapeCheck,
)


def length(value: float, u: float, label: str = "", group: str = "Widths") -> Dimension:
    """A length in mm with a symmetrical interval."""
    return Dimension("code", label, group, Quantity.LENGTH, value, u, value - 2 * u, value + 2 * u, (), ())


def angle(value: float, u: float, label: str) -> Dimension:
    """An angle in degrees."""
    return replace(length(value, u, label, "Deadrise"), quantity=Quantity.ANGLE)


BEAM = length(2120.0, 1.5, "Chine beam")
DRAIN = FittingResult(
    id="drain",
    name="drain",
    kind="drain",
    shape="circle",
    plan="undecided",
    x=length(-25.4, 1.0),
    below_reference=length(700.0, 1.0),
    y=length(90.0, 1.0),
    diameter=length(38.0, 0.5),
    width=None,
    height=None,
    proud_mm=3.0,
    u_proud_mm=1.0,
    nearest=None,
    clearance=None,
)
PHOTO = PhotoResult(
    id="photo_1",
    file="stern.jpg",
    sha256="0" * 64,
    width_px=4000,
    height_px=3000,
    captured=None,
    device=None,
    f_px=2900.0,
    u_f_px=30.0,
    k1=0.0,
    u_k1=0.01,
    distance_mm=3340.0,
    off_square_deg=12.2,
    sample_distance_mm=1.1,
    lens_source="EXIF",
    camera_matrix=(),
    rotation=(),
    translation=(),
)
ADJUSTMENT = Adjustment(
    observations=210,
    parameters=90,
    redundancy=120.0,
    weighted_square_sum=118.0,
    variance_factor=0.98,
    test_lower=91.0,
    test_upper=152.0,
    accepted=True,
    scaled_by=1.0,
    iterations=6,
)
FINDINGS = (
    Finding("a", Severity.NOTE, "rule", "Nothing checks the rule."),
    Finding("b", Severity.SERIOUS, "chine_port", "Chine port does not fit."),
    Finding("c", Severity.WARNING, "board", "The board stands alone."),
)
CHECK = TapeCheck("top", "Top width", 2240.0, 3.0, 2247.0, 4.0, Quantity.LENGTH, 1.4, False)


def a_survey(**changes: object) -> Survey:
    """A small survey; `changes` replace its parts."""
    survey = Survey(
        program_version="0.1.0",
        title="A transom",
        dimensions=(angle(18.6, 0.06, "Deadrise port"), BEAM),
        fittings=(DRAIN,),
        points=(),
        outline=(),
        reference_line=None,
        observations=(),
        checks=(CHECK,),
        findings=FINDINGS,
        photos=(PHOTO,),
        adjustment=ADJUSTMENT,
    )
    return replace(survey, **changes)  # type: ignore[arg-type]
