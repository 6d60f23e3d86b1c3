"""The keys that design.toml may have: ranges wide enough for any real loudspeaker, and no wider."""

from __future__ import annotations

from typing import get_args

from sealtune.files.settings import Key
from sealtune.records.design import DriverWiring, Lining, VentEnd, VentShape, WallPosition

LITRE = 1e-3
MILLIMETRE = 1e-3
SQUARE_CENTIMETRE = 1e-4
PERCENT = 1e-2
GRAM = 1e-3
HECTOPASCAL = 100.0


def _length(name: str, meaning: str, low: float, high: float, example: float) -> Key:
    return Key(name, meaning, "number", low, high, "mm", MILLIMETRE, example=example)


def _tolerance(name: str, meaning: str, example: float) -> Key:
    return Key(name, meaning, "number", 0.01, 100.0, "percent", PERCENT, example=example)


_SIDES = {
    "triangle": 3,
    "triangular": 3,
    "pentagon": 5,
    "pentagonal": 5,
    "hexagon": 6,
    "hexagonal": 6,
    "heptagon": 7,
    "octagon": 8,
    "octagonal": 8,
    "nonagon": 9,
    "decagon": 10,
    "dodecagon": 12,
}
_ROUND = ("circle", "circular", "tube", "pipe", "cylinder", "cylindrical")
_RECTANGULAR = ("slot", "slit", "square", "rectangle", "quadratic")
_CUSTOM = ("oval", "ellipse", "elliptic", "elliptical", "other", "irregular", "free")

SHAPE_ADVICE = (
    *((word, f'write "polygon" with sides = {sides} and across_flats_mm') for word, sides in _SIDES.items()),
    *((word, 'write "round" with diameter_mm') for word in _ROUND),
    *((word, 'write "rectangular" with width_mm and height_mm') for word in _RECTANGULAR),
    *((word, 'write "custom" with area_cm2') for word in _CUSTOM),
)
"""What to write for other words that name a shape."""

DESIGN_KEYS = (Key("name", "what you call this box", "text", example="Bookshelf"),)

BOX_KEYS = (
    Key("volume_l", "net volume: driver, vent and bracing taken off", "number", 0.1, 5000.0, "litres", LITRE,
        example=18.0),
    _tolerance("volume_tolerance_percent", "how far the volume may be off", 3.0),
    Key("lining", "damping material on the walls or in the whole box", "word", words=get_args(Lining),
        example="walls"),
    _length("width_mm", "inside width of the box", 10.0, 10_000.0, 200.0),
    _length("height_mm", "inside height of the box", 10.0, 10_000.0, 320.0),
    _length("depth_mm", "inside depth of the box, along the vent", 10.0, 10_000.0, 320.0),
)  # fmt: skip

VENT_KEYS = (
    Key("shape", "cross-section of the vent", "word", words=get_args(VentShape), example="round",
        advice=SHAPE_ADVICE),
    _length("diameter_mm", "round vent: inner diameter", 3.0, 1000.0, 50.0),
    _length("width_mm", "rectangular vent: inner width", 1.0, 3000.0, 100.0),
    _length("height_mm", "rectangular vent: inner height", 1.0, 3000.0, 20.0),
    Key("shared_walls", "rectangular vent: how many of its walls are cabinet walls that go on beyond the inner "
        "mouth: 1 a longer side (a slot on the floor), 2 a corner, 3 a slot across the whole width",
        "integer", 0, 3, example=1),
    Key("sides", "regular polygon: number of sides", "integer", 3, 100, example=6),
    _length("across_flats_mm", "regular polygon: diameter of the largest circle that fits inside",
            3.0, 1000.0, 48.0),
    Key("area_cm2", "any other shape: area of the opening", "number", 0.05, 10_000.0, "cm2",
        SQUARE_CENTIMETRE, example=20.0),
    _length("length_mm", "from mouth to mouth, flanges and wall included; if absent, what reaches target_hz",
            1.0, 5000.0, 140.0),
    Key("count", "vents alike; 1 if absent", "integer", 1, 100, example=2),
    Key("outer_end", "how the air leaves outside; flanged if absent", "word", words=get_args(VentEnd),
        example="flared"),
    Key("inner_end", "how the air leaves inside; free if absent", "word", words=get_args(VentEnd),
        example="free"),
    _length("flare_radius_mm", "radius of the rounding of a flared end", 0.5, 500.0, 15.0),
    _length("wall_distance_mm", "from the inner mouth to the nearest wall", 1.0, 5000.0, 80.0),
    Key("wall_position", "that wall stands beside the inner mouth, or the mouth faces it", "word",
        words=get_args(WallPosition), example="beside"),
    _length("spacing_mm", "several vents: from centre to centre of neighbours", 3.0, 5000.0, 120.0),
    _length("length_tolerance_mm", "how far the length may be off", 0.01, 100.0, 1.0),
    _length("size_tolerance_mm", "how far each measure of the opening may be off", 0.01, 100.0, 0.3),
)  # fmt: skip

TUNING_KEYS = (
    Key("target_hz", "the tuning aimed at; if absent, what box and vent predict", "number", 3.0, 500.0, "Hz",
        example=44.0),
    _tolerance("tolerance_percent", "how far the tuning may be off", 4.0),
)  # fmt: skip

DRIVER_KEYS = (
    Key("fs_hz", "resonance in free air", "number", 5.0, 500.0, "Hz", example=48.0),
    Key("qms", "mechanical Q in free air", "number", 0.1, 100.0, example=4.2),
    Key("qes", "electrical Q in free air", "number", 0.01, 50.0, example=0.42),
    Key("qts", "total Q in free air, of qms and qes together", "number", 0.01, 50.0, example=0.38),
    Key("vas_l", "air as springy as the suspension", "number", 0.01, 10_000.0, "litres", LITRE, example=21.0),
    Key("re_ohm", "resistance of one voice coil at direct current", "number", 0.1, 200.0, "ohm", example=5.7),
    Key("sd_cm2", "effective area of one cone", "number", 1.0, 10_000.0, "cm2", SQUARE_CENTIMETRE,
        example=132.0),
    Key("mms_g", "moving mass with the air it carries", "number", 0.01, 5000.0, "g", GRAM, example=13.0),
    Key("cms_mm_per_n", "give of the suspension", "number", 0.001, 100.0, "mm/N", MILLIMETRE, example=0.85),
    Key("bl_t_m", "force factor Bl; N/A is the same as T m", "number", 0.05, 200.0, "T m", example=7.3),
    Key("rms_kg_per_s", "mechanical resistance", "number", 0.001, 500.0, "kg/s", example=0.93),
    _length("xmax_mm", "linear travel one way", 0.05, 100.0, 5.0),
    Key("power_w", "rated power", "number", 0.1, 20_000.0, "W", example=60.0),
    _tolerance("fs_tolerance_percent", "scatter of fs_hz", 10.0),
    _tolerance("qms_tolerance_percent", "scatter of qms", 25.0),
    _tolerance("qes_tolerance_percent", "scatter of qes", 15.0),
    _tolerance("vas_tolerance_percent", "scatter of vas_l", 15.0),
    _tolerance("re_tolerance_percent", "scatter of re_ohm", 5.0),
    _tolerance("sd_tolerance_percent", "scatter of sd_cm2", 3.0),
    Key("count", "drivers sharing the box", "integer", 1, 64, example=1),
    Key("wiring", "how several drivers are wired", "word", words=get_args(DriverWiring), example="single"),
)  # fmt: skip

CROSSOVER_KEYS = (
    Key("series_mh", "coil in series with the driver", "number", 0.0, 1000.0, "mH", 1e-3, example=0.8),
    Key("series_ohm", "resistance in series, that of the coil included", "number", 0.0, 1000.0, "ohm",
        example=0.3),
    Key("shunt_uf", "capacitor of a branch across the driver", "number", 0.001, 100_000.0, "uF", 1e-6,
        example=22.0),
    Key("shunt_ohm", "resistor of a branch across the driver", "number", 0.0, 100_000.0, "ohm", example=6.8),
)  # fmt: skip

AIR_KEYS = (
    Key("temperature_c", "temperature where the box is measured; 20 if absent", "number", -10.0, 45.0,
        "degrees Celsius", example=20.0),
    Key("humidity_percent", "relative humidity; 50 if absent", "number", 0.0, 100.0, "percent", PERCENT,
        example=50.0),
    Key("pressure_hpa", "air pressure at the place itself, not reduced to sea level; 1013.25 if absent", "number",
        500.0, 1100.0, "hPa", HECTOPASCAL, example=1013.0),
    Key("temperature_tolerance_c", "how far the temperature may be off; 3 if absent", "number", 0.0, 30.0,
        "degrees Celsius", example=3.0),
)  # fmt: skip

DESIGN_TABLES = {
    "design": DESIGN_KEYS,
    "box": BOX_KEYS,
    "vent": VENT_KEYS,
    "tuning": TUNING_KEYS,
    "driver": DRIVER_KEYS,
    "crossover": CROSSOVER_KEYS,
    "air": AIR_KEYS,
}
"""Every table of design.toml with its keys, in the order of a template."""

SHAPE_KEYS = {
    "round": ("diameter_mm",),
    "rectangular": ("width_mm", "height_mm"),
    "polygon": ("sides", "across_flats_mm"),
    "custom": ("area_cm2",),
}
"""The keys that say how large a vent of each shape is."""

SHAPE_OPTIONS = {"rectangular": ("shared_walls",)}
"""Further keys that only a vent of that shape may have."""
