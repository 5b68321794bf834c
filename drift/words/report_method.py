"""How the numbers of a report came to be, in its sentences."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from drift.pairing import GAP_MINUTES, SETTLE_SECONDS, TYPED_MINUTES
from drift.pairing.nearest import STEP_CELSIUS
from drift.pairing.scatter import LEAST_CELSIUS
from drift.regression.priors import Priors
from drift.words.fit import covariance_text

if TYPE_CHECKING:
    from drift.regression.results import Fit

__all__ = ["REFERENCES", "RULES", "fitted"]

HOW_DONE = "How this was done"
HOW_MADE = "How this report was made"
MADE_HEADER = ("what", "which")

SEVERAL_KINDS = "; the slopes of all kinds have a part in common"
AT_START = (
    " How warm instruments were at the start, where nobody logged it, is one number for each kind."
)
NEVER_READ = (
    " The rise from cold and the cold slope reach back to a moment that is never read: if breath "
    "fills the bore at once, they are short by what it does at once. The check is a fit with an "
    "estimated start (--start estimated), whose intervals are wider."
)
FORMULA = " The line is {formula}, where drift stands for temperature and playing time."

REFERENCES = (
    "O. Cramer, The variation of the specific heat ratio and the speed of sound in air with "
    "temperature, pressure, humidity, and CO2 concentration, J. Acoust. Soc. Am. 93 (1993), 2510.",
    "ISO 16:1975, Acoustics: Standard tuning frequency (A4 = 440 Hz).",
)

RULES = (
    "Cents are brought to A4 = 440 Hz and to each player's first stated slide positions before "
    "the fit.",
    f"A temperature is interpolated between samples at most {GAP_MINUTES:g} minutes apart, else "
    f"the nearest within {GAP_MINUTES:g} minutes; a typed one holds for {TYPED_MINUTES:g}, and "
    f"between two that are no further apart and differ by less than {STEP_CELSIUS:g} °C the line "
    "is taken. Where a thermometer was away, nothing is interpolated.",
    f"Temperatures that scatter by {LEAST_CELSIUS:g} °C or more about an even course are taken "
    "from that course.",
    f"Readings in the first {SETTLE_SECONDS:g} s of playing are set aside, because the carbon "
    "dioxide of the breath first lowers the pitch.",
    "Intervals are 95 % intervals.",
)
"""How readings are paired, and how sure answers are."""


def fitted(fit: Fit) -> list[str]:
    """Return which model was fitted, a paragraph each: the method, then its equation.

    Parameters
    ----------
    fit : Fit
        Of readings.
    """
    told = _regression(fit) if fit.method == "bayesian" else _lines(fit)
    return [f"Method {fit.method}: {told[0]}", f"Model: {told[1]}"]


def _regression(fit: Fit) -> tuple[str, str]:
    """Return the regression with players in it, and its equation."""
    priors = fit.settings.priors or Priors()
    shared = "rehearsal_sd" in fit.sds
    random = (
        "what a rehearsal does to everybody, and a player's day" if shared else "a player's day"
    )
    method = (
        "Bayesian regression that begins at acoustics (priors) and hands over to the readings. "
        "Each player has a slope, a rise and a slow drift of their own, drawn from those of the "
        f"kind of instrument{SEVERAL_KINDS * (len(fit.kinds) > 1)}. Time constants belong to the "
        "kind of instrument, the bend to all. Every note of every player has an intercept of its "
        f"own; {random}, are random effects. {100.0 * priors.outlier_share:g} % of the readings "
        "are expected to be outliers. Intervals allow "
        f"{priors.walls_sd:g} cents/hour of the slow drift and {priors.quick_walls_sd:g} cents of "
        "the rise for walls that do not all warm alike, and that an instrument is warm, or cooled, "
        f"later by {100.0 * priors.late_walls_log_sd:.2g} % (one standard deviation). A part of "
        "the rise that takes several times as long as the rest counts mostly as slow drift."
        f"{AT_START if fit.settings.start == 'estimated' else NEVER_READ}{_covariates(fit)}"
    )
    covariates = fit.settings.covariates
    model = (
        "cents = a + b (A − 20) + r (E/14 − 1) + s h + q (T − 20)²"
        f"{' + x′c' * bool(covariates)}{' + v' * shared} + u + e. T is the air in °C, A the air in "
        "the instrument and E what breath, at 34 °C, adds to it. In air that does not change, "
        "A = T and E = w (34 − T), where w says how far the instrument is warmed up, 0 to 1: "
        "dw/dt = (1 − w)/τ₁ while playing and −w/τ₂ while resting. a is the pitch of a note, b the "
        "player's slope before playing, r the player's rise from cold to warm at 20 °C, and s the "
        "player's slow drift in each of h hours of playing, a straight line up to the longest "
        "playing time seen (kept within 30 and 180 minutes); q is the bend"
        f"{', x the covariates and c their effects' * bool(covariates)}"
        f"{', v what a rehearsal does to everybody' * shared}, u a player's day and e the scatter "
        "of a reading. Warm it drifts by b − r/14, the bend apart."
    )
    return method, model


def _lines(fit: Fit) -> tuple[str, str]:
    """Return the straight lines, each of one kind of instrument, and their equation."""
    mixed = fit.method == "mixed"
    what = "Mixed model (REML)" if mixed else "Ordinary least squares"
    shared = mixed and "rehearsal_sd" in fit.sds
    of_all = "of what a rehearsal does to all who play the instrument and " * shared
    random = f" and random effects {of_all}of a player's day" if mixed else ""
    errors = dict.fromkeys(covariance_text(one["covariance"]) for one in _figures(fit))
    method = (
        f"{what} of cents on temperature and minutes of playing, for each kind of instrument by "
        f"itself, with an intercept for every note of every player{random}. It has one line for "
        "all players of an instrument, and no warm-up. Standard errors: "
        f"{'; '.join(errors)}.{_covariates(fit)}"
    )
    more = bool(fit.settings.covariates or fit.settings.formula)
    own = ", u a player's day" * mixed
    model = (
        f"cents = a + b T + d m{' + x′c' * more}{' + v' * shared}{' + u' * mixed} + e, with T the "
        "air in °C, m minutes of playing, a the pitch of a note, b the slope, d the drift with "
        f"playing{', x the other terms and c their effects' * more}"
        f"{', v what a rehearsal does to all' * shared}{own} and e the "
        "scatter of a reading."
    )
    return method, model


def _figures(fit: Fit) -> list[Any]:
    """Return the figures of each line."""
    return [fit.diagnostics.get(name, fit.diagnostics) for name in fit.kinds]


def _covariates(fit: Fit) -> str:
    """Return which covariates, or which formula, the model holds."""
    made = fit.settings
    if made.formula:
        return FORMULA.format(formula=made.formula)
    if not made.covariates:
        return ""
    whose = "all instruments" if fit.method == "bayesian" else "each kind of instrument by itself"
    return f" Covariates, with effects for {whose}: {', '.join(made.covariates)}."
