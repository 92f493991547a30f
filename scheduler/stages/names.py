"""What growth stages are called, in which order, and how to read them: "VE", "V3", "R1", "boot".

Input: a stage as a person writes it. Output: a number on the crop's own scale, so that stages can be
compared and interpolated. On both cash-crop scales *Vn is the number n*, VE is 0 and a planted seed is -1.
"""

from __future__ import annotations

from dataclasses import dataclass

from shared.errors import FitgroundError

CORN_LEAVES_MAX = 22
SOYBEAN_NODES_MAX = 20


class StageNameUnknown(FitgroundError, ValueError):
    """A stage name does not belong to the crop; the message lists the allowed ones."""

    exit_code = 2


class SettingRefused(FitgroundError, ValueError):
    """A setting, a sighting or a choice cannot be used; the message names it and what is allowed."""

    exit_code = 2


@dataclass(frozen=True)
class StageScale:
    """The named stages of one crop in the order in which it passes them.

    Attributes
    ----------
    crop : str
        Name of the crop, for messages.
    names : tuple of str
        Stage names, earliest first.
    numbers : tuple of float
        Position of each name; strictly increasing.
    allowed : str
        The allowed names as a person would say them.
    """

    crop: str
    names: tuple[str, ...]
    numbers: tuple[float, ...]
    allowed: str

    def parse(self, text: str) -> float:
        """Return the number of a stage as written (any case, surrounding blanks allowed)."""
        wanted = str(text).strip().casefold()
        for name, number in zip(self.names, self.numbers, strict=True):
            if name.casefold() == wanted:
                return number
        raise StageNameUnknown(f"{self.crop}: {text!r} is not a stage; allowed: {self.allowed}.")

    def canonical(self, text: str) -> str:
        """Return the usual spelling of a stage name."""
        return self.name_at(self.parse(text))

    def name_at(self, number: float) -> str:
        """Return the last named stage that the crop has reached at `number`."""
        reached = self.names[0]
        for name, start in zip(self.names, self.numbers, strict=True):
            if start <= number + 1e-9:
                reached = name
        return reached

    def end_of(self, text: str) -> float:
        """Return the number at which stage `text` is over, that is the start of the next one (inf for the
        last).

        A window "V3 to V6" lasts until V7 begins: a plant with six collars is V6 until the seventh shows.
        """
        later = [number for number in self.numbers if number > self.parse(text)]
        return later[0] if later else float("inf")


def _cash_crop(
    crop: str, leaves: int, before: tuple[str, ...], after: tuple[str, ...], allowed: str
) -> StageScale:
    numbered = tuple(f"V{n}" for n in range(1, leaves + 1))
    opening = tuple(-1.0 + k / (len(before) - 1) for k in range(len(before)))
    closing = tuple(float(leaves + 1 + k) for k in range(len(after)))
    numbers = (*opening, *(float(n) for n in range(1, leaves + 1)), *closing)
    return StageScale(crop, (*before, *numbered, *after), numbers, allowed)


CORN_SCALE = _cash_crop(
    "corn",
    CORN_LEAVES_MAX,
    ("planted", "VE"),
    ("VT", "R1", "R2", "R3", "R4", "R5", "R6"),
    f"planted, VE, V1 to V{CORN_LEAVES_MAX}, VT, R1 to R6",
)

_soybean = _cash_crop(
    "soybean",
    SOYBEAN_NODES_MAX,
    ("planted", "VE"),
    ("R1", "R2", "R3", "R4", "R5", "R6", "R7", "R8"),
    f"planted, VE, VC, V1 to V{SOYBEAN_NODES_MAX}, R1 to R8",
)
#: Soybean has the cotyledon stage VC between emergence and the first node; it stands at 0.5.
SOYBEAN_SCALE = StageScale(
    "soybean",
    (*_soybean.names[:2], "VC", *_soybean.names[2:]),
    (*_soybean.numbers[:2], 0.5, *_soybean.numbers[2:]),
    _soybean.allowed,
)

RYE_SCALE = StageScale(
    "rye",
    ("green-up", "tillering", "jointing", "boot", "heading", "anthesis", "soft dough"),
    (0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0),
    "green-up, tillering, jointing, boot, heading, anthesis, soft dough",
)

_SCALES = {scale.crop: scale for scale in (CORN_SCALE, SOYBEAN_SCALE, RYE_SCALE)}


def scale_for(crop: str) -> StageScale:
    """Return the stage scale of a crop ("corn", "soybean" or the cover "rye")."""
    try:
        return _SCALES[str(crop)]
    except KeyError:
        known = ", ".join(sorted(_SCALES))
        raise StageNameUnknown(f"{crop!r} has no growth stages here; allowed: {known}.") from None
