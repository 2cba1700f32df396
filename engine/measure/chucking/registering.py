"""Where a blank stands that was taken out and put back: the motion from its stored skin to a few points probed now.

Takes the stored skin and a dozen readings or more; gives shift, turn, tilt and offset with their covariance. Turns all
round are tried first, each with the best of the rest, then the good ones are refined. What the points cannot tell is
said: a skin too round for the turn, one with several turns alike, a bar along which nothing changes.
"""

from dataclasses import dataclass, replace

import numpy as np

from engine.blank import Skin
from engine.kernel.arrays import Bools, Floats, frozen_floats, locked
from engine.kernel.errors import BlankError
from engine.kernel.findings import Finding
from engine.kernel.units import TURN_RAD
from engine.measure.chucking.doubts import left_out, warning
from engine.measure.chucking.fitting import GUESS_MM, TURN, Fit, Prior, Problem, costs, settle, solve
from engine.measure.chucking.motion import Motion
from engine.measure.measured import Readings

__all__ = ["Registered", "register"]

LEAST_POINTS = 12  # twice the numbers asked for
TURNS = 72  # every 5 degrees: finds lobes up to the eighteenth harmonic
MOST_STARTS = 24  # of them are refined
SAME_TURN_DEG = 2.0  # starts that end nearer than this found the same turn
COARSE, FINE = 4, 12  # rounds; every round of a good start adds a digit or more
SHIFT_SIGMA_MM, TILT_SIGMA_DEG, OFFSET_SIGMA_MM = 5.0, 1.0, 1.0  # of careful putting back by hand; no source
ANY_TURN_RAD = np.pi / np.sqrt(3.0)  # standard deviation of a turn of which nothing is known
ALIKE = 12.0  # twice the log of the odds: 400 to 1 against
TURN_LIMIT_DEG = 1.0  # 0.7 mm on a radius of 40 mm: art turned by more is seen to be off
SHIFT_LIMIT_MM = 0.5
TILT_LIMIT_DEG = 0.2
MISFIT = 3.0  # times what the sigmas say, or GUESS_MM and the skin's own where readings state none


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Registered:
    """The motion found, old frame to new, and how sure it is.

    covariance : (6, 6) of shift, turn, tilt_y, tilt_z, offset_y, offset_z, mm and rad. turns_deg : every turn that
    fits alike, the chosen one first. residual_mm : (k,) what is left over along the skin's normal, positive outside;
    used : (k,) False for wild points and those beyond the stored stations. rms_mm : of what is left over where used.
    """

    motion: Motion
    covariance: Floats
    turn_known: bool
    shift_known: bool
    turns_deg: tuple[float, ...]
    residual_mm: Floats
    used: Bools
    rms_mm: float
    findings: tuple[Finding, ...] = ()
    how: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        for name in ("covariance", "residual_mm"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))
        object.__setattr__(self, "used", locked(np.asarray(self.used, np.bool_)))

    @property
    def shift_sigma_mm(self) -> float:
        """One standard deviation of the shift."""
        return float(np.sqrt(self.covariance[0, 0]))

    @property
    def turn_sigma_deg(self) -> float:
        """One standard deviation of the turn."""
        return float(np.degrees(np.sqrt(self.covariance[1, 1])))

    @property
    def tilt_sigma_deg(self) -> float:
        """One standard deviation of the tilt in its less sure direction."""
        return float(np.degrees(np.sqrt(np.linalg.eigvalsh(self.covariance[2:4, 2:4])[-1])))


def register(
    skin: Skin,
    readings: Readings,
    *,
    turn_near_deg: float | None = None,
    turn_within_deg: float = 20.0,
    shift_sigma_mm: float = SHIFT_SIGMA_MM,
    tilt_sigma_deg: float = TILT_SIGMA_DEG,
    offset_sigma_mm: float = OFFSET_SIGMA_MM,
) -> Registered:
    """How `skin`, measured before, stands now, by `readings` in the machine's present frame.

    turn_near_deg: the turn as a person reads it off a mark, true to `turn_within_deg` (one standard deviation); without
    it every turn is tried. The other sigmas say how far the blank may have moved in being put back, before measuring.
    A skin and readings that state no sigma are judged by what the fit leaves over.
    Raises BlankError: fewer than 12 readings, or fewer within the stored skin's stations.
    """
    if len(readings) < LEAST_POINTS:
        raise BlankError(
            f"{len(readings)} points cannot tell how the blank stands",
            where="/readings",
            hint=f"probe at least {LEAST_POINTS}, spread over its length and all round; 40 are good",
        )
    hint = None if turn_near_deg is None else np.radians(turn_near_deg)
    tilt = np.radians(tilt_sigma_deg)
    prior = Prior(
        mean=np.array([0.0, 0.0 if hint is None else hint, 0.0, 0.0, 0.0, 0.0]),
        sigma=np.array(
            [
                shift_sigma_mm,
                ANY_TURN_RAD if hint is None else np.radians(turn_within_deg),
                *(tilt, tilt, offset_sigma_mm, offset_sigma_mm),
            ]
        ),
    )
    problem = Problem.of(skin, readings, prior)
    starts = _turns(problem, all_round=hint is None)
    best, turns = _alike(problem, starts)
    fit = settle(problem, best)
    if int(fit.used.sum()) < LEAST_POINTS:
        raise BlankError(
            f"only {int(fit.used.sum())} of {len(readings)} points lie on the stored skin",
            where="/readings",
            hint="check that it is the same blank the same way round, and probe within the stored stations",
        )
    return _told(problem, fit, turns)


def _turns(problem: Problem, *, all_round: bool) -> Floats:
    """(s, 6) starts: of turns tried all round (or about the one given), each with the best of the rest, the least."""
    prior = problem.prior
    if all_round:
        turns = np.arange(TURNS) * (TURN_RAD / TURNS)
    else:
        turns = prior.mean[TURN] + prior.sigma[TURN] * np.linspace(-3.0, 3.0, TURNS // 2 + 1)
    sigma = prior.sigma.copy()
    sigma[TURN] = 0.0
    held = replace(problem, prior=Prior(mean=prior.mean, sigma=sigma))
    tried = np.tile(prior.mean, (len(turns), 1))
    tried[:, TURN] = turns
    tried, factor = solve(held, tried, COARSE)
    cost = np.round(costs(held, tried, float(factor.min())), 6)
    before, after = np.roll(cost, 1), np.roll(cost, -1)
    if not all_round:
        before[0] = after[-1] = np.inf
    least = np.flatnonzero((cost <= before) & (cost <= after))
    return tried[least[np.argsort(cost[least], kind="stable")][:MOST_STARTS]]


def _alike(problem: Problem, starts: Floats) -> tuple[Floats, tuple[float, ...]]:
    """(6,) the best start refined, and the turns, degrees, of all that fit as well, the best first."""
    refined, factor = solve(problem, starts, FINE)
    cost = np.round(costs(problem, refined, float(factor.min())), 6)
    order = np.argsort(cost, kind="stable")
    turns: list[float] = []
    for k in order[cost[order] - cost[order[0]] < ALIKE]:
        turn = _half_turn(float(np.degrees(refined[k, TURN])))
        if all(abs(_half_turn(turn - other)) > SAME_TURN_DEG for other in turns):
            turns.append(turn)
    return refined[order[0]], tuple(turns)


def _told(problem: Problem, fit: Fit, turns: tuple[float, ...]) -> Registered:
    """The fit in words; a turn that is not known is held at what was believed before and its own doubt kept."""
    covariance = fit.covariance.copy()
    round_ = problem.body.skin.is_round or np.degrees(np.sqrt(covariance[TURN, TURN])) > TURN_LIMIT_DEG
    if round_:
        prior, doubt = problem.prior, covariance[TURN, TURN]
        sigma, start = prior.sigma.copy(), fit.parameters.copy()
        sigma[TURN], start[TURN], turns = 0.0, prior.mean[TURN], ()
        fit = settle(replace(problem, prior=Prior(mean=prior.mean, sigma=sigma)), start)
        covariance = fit.covariance.copy()
        covariance[TURN, TURN] = doubt
    else:
        turns = (_half_turn(float(np.degrees(fit.parameters[TURN]))), *turns[1:])
    motion = problem.motion(fit.parameters)
    left = fit.residual_mm[fit.used]
    found = Registered(
        motion=replace(motion, turn_rad=float(np.radians(_half_turn(np.degrees(motion.turn_rad))))),
        covariance=covariance,
        turn_known=not round_ and len(turns) == 1,
        shift_known=bool(np.sqrt(covariance[0, 0]) <= SHIFT_LIMIT_MM),
        turns_deg=turns,
        residual_mm=fit.residual_mm,
        used=fit.used,
        rms_mm=float(np.sqrt((left**2).mean())),
    )
    findings = (*_unknowns(found, round_=bool(round_)), *_doubts(problem, fit, found))
    return replace(found, findings=findings, how=_how(problem, fit, found))


def _half_turn(degrees: float) -> float:
    """The same angle within half a turn either way."""
    return float((degrees + 180.0) % 360.0 - 180.0)


def _unknowns(found: Registered, *, round_: bool) -> list[Finding]:
    """What the points could not tell."""
    made = []
    mark = "make a mark on blank and chuck before taking it out, and give the turn that the marks show"
    if round_:
        text = f"the skin is too round to tell how far it was turned: only within {found.turn_sigma_deg:.1f} deg"
        made.append(warning("turn-unknown", text, mark))
    elif len(found.turns_deg) > 1:
        text = "several turns fit equally well: " + ", ".join(f"{turn:.1f}" for turn in found.turns_deg) + " deg"
        made.append(warning("turn-ambiguous", text, f"choose the right one by eye, or {mark}"))
    if not found.shift_known:
        text = (
            f"the skin changes too little along the axis to tell its shift: only within {found.shift_sigma_mm:.2f} mm"
        )
        made.append(warning("shift-unknown", text, "set the datum face again by touching it"))
    if found.tilt_sigma_deg > TILT_LIMIT_DEG:
        text = f"the points do not tell the tilt: only within {found.tilt_sigma_deg:.2f} deg"
        made.append(warning("tilt-unknown", text, "probe at stations further apart, and all round at each"))
    return made


def _doubts(problem: Problem, fit: Fit, found: Registered) -> list[Finding]:
    """What speaks against the fit itself."""
    made = left_out(fit, "the stored skin")
    expected = float(np.hypot(GUESS_MM, problem.skin_sigma_mm))
    if fit.factor > MISFIT if problem.given else found.rms_mm > MISFIT * expected:
        text = f"the points miss the stored skin by {found.rms_mm:.3f} mm rms, more than their own error explains"
        advice = "check that it is the same blank, not put back end for end, with nothing cut since; else measure anew"
        made.append(warning("does-not-fit", text, advice))
    return made


def _how(problem: Problem, fit: Fit, found: Registered) -> tuple[tuple[str, str], ...]:
    m, sigma = found.motion, problem.prior.sigma
    before = (
        f"shift within {sigma[0]:g} mm, turn within {np.degrees(sigma[TURN]):.0f} deg, "
        f"tilt within {np.degrees(sigma[2]):g} deg, offset within {sigma[4]:g} mm (one standard deviation)"
    )
    tilt, offset = np.degrees([m.tilt_y_rad, m.tilt_z_rad]), (m.offset_y_mm, m.offset_z_mm)
    return (
        ("shift", f"{m.shift_mm:.3f} mm, sigma {found.shift_sigma_mm:.3f}"),
        ("turn", f"{np.degrees(m.turn_rad):.2f} deg, sigma {found.turn_sigma_deg:.2f}"),
        ("tilt", f"{tilt[0]:.3f} and {tilt[1]:.3f} deg about y and z, sigma {found.tilt_sigma_deg:.3f}"),
        ("offset", f"{offset[0]:.3f} and {offset[1]:.3f} mm along y and z at x = {m.pivot_mm:g}"),
        ("left over", f"{found.rms_mm:.4f} mm rms of {int(fit.used.sum())} points along the skin's normal"),
        ("believed before", before),
    )
