"""Physics of slitting and pulling: what the head takes, what the tail drags, what bends multiply.

An old pipe that is drawn out whole is not slit and not opened; the ground holds what of it is
still in there. Two forces come out and are never mixed. The TOTAL is what cable, jaws, clevis,
swivel, puller and anchor carry. The DRAG behind the expander is all that the new pipe carries.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from replacements.domain.pull_force.arching import arching_psf
from replacements.domain.pull_force.case import Bend, Joint, PullCase
from replacements.domain.pull_force.numeric import SCALAR
from replacements.domain.pull_force.pull_out import holding_psf
from replacements.domain.pull_force.soils import SoilFamily, clay_pressure_psf, sand_pressure_psf

# Names of the soil's own values beside the parameters'.
SOIL_STRENGTH = "SOIL_STRENGTH"
SOIL_RIGIDITY = "SOIL_RIGIDITY"

# Depth that bears on the pipe as a part of the cover, by cover over pipe diameter; read to 20
# diameters, where services lie at 50 to 70: an upper bound to compare with, never the estimate.
# Source: Najafi, Trenchless Technology Piping, pp. 270-272 (seen).
EFFECTIVE_DEPTH = ((5.0, 1.0), (10.0, 2 / 3), (20.0, 1 / 2), (math.inf, 1 / 3))


def effective_depth_in(cover_in: float, pipe_in: float) -> float:
    """Return the depth of ground that bears on the pulled pipe, in."""
    ratio = cover_in / pipe_in
    return next(cover_in * part for below, part in EFFECTIVE_DEPTH if ratio < below)


def prism_drag_lbf(unit_weight_pcf, cover_ft, pipe_in, length_ft, lateral_ratio) -> float:
    """Return the drag with the whole prism of ground bearing on the pipe, lb.

    Source: Najafi, Trenchless Technology Piping, p. 272, upper bound (seen).
    """
    around_ft = math.pi * pipe_in / 12
    return unit_weight_pcf * cover_ft * around_ft * length_ft * lateral_ratio


def capstan_factor(friction, degrees, ops=SCALAR):
    """Return how much a bend multiplies the tension: e to the friction times the angle in rad."""
    return ops.exp(friction * math.radians(degrees))


@dataclass(frozen=True)
class Run:
    """Forces of one pull with one set of values; floats, or arrays with one item per draw, lb.

    `thickness` is what remains of slitting per wall and strength, so that a joint can be put in
    the place of the pipe's wall.
    """

    case: PullCase
    values: Mapping[str, float]
    slit: float
    open_shell: float
    expand_soil: float
    soil_pressure_psf: float
    drag_per_ft: float
    ops: object
    hold_per_ft: float = 0.0

    def hold(self, station_ft: float):
        """Return how hard the ground holds what of an old pipe drawn out is still in it, lb."""
        return self.hold_per_ft * (self.case.length_ft - station_ft)

    @property
    def head(self):
        """Force that the blade and the expander take, lb."""
        return self.slit + self.open_shell + self.expand_soil

    def drag(self, station_ft: float, passed: bool = False):
        """Return the drag behind the expander at a station, lb.

        A bend at the station itself lies still ahead, unless `passed`.
        """
        tail, at = 0.0, 0.0
        for bend in self._bends(lambda s: s < station_ft or (passed and s == station_ft)):
            factor = capstan_factor(self.values["PIPE_FRICTION"], bend.degrees, self.ops)
            tail, at = (tail + self.drag_per_ft * (bend.station_ft - at)) * factor, bend.station_ft
        return tail + self.drag_per_ft * (station_ft - at)

    def ahead(self, station_ft: float, passed: bool = False):
        """Return the factor by which bends still ahead multiply the force in the cable."""
        bends = self._bends(lambda s: s > station_ft or (not passed and s == station_ft))
        return self._cable_factor(sum(bend.degrees for bend in bends))

    def total(self, station_ft: float, passed: bool = False):
        """Return the force in the cable at the puller with the head at a station, lb."""
        held = self.head + self.drag(station_ft, passed) + self.hold(station_ft)
        return held * self.ahead(station_ft, passed)

    def joint(self, joint: Joint):
        """Return the force in the cable while the blade cuts a wiped joint, lb."""
        at_joint = joint_slit(self, joint) + self.open_shell + self.expand_soil
        return (at_joint + self.drag(joint.station_ft)) * self.ahead(joint.station_ft)

    def walk(self):
        """Yield (station ft, drag lb, total lb) wherever the force can peak, in order.

        Both forces rise between bends; the total drops as the head passes one. Where the old pipe
        is drawn out, the total falls as less of it is held, so that each stretch's start counts.
        """
        ahead = [bend for bend in self.case.all_bends if bend.station_ft < self.case.length_ft]
        degrees = self.case.bends_deg
        tail, at = 0.0, 0.0
        for bend in ahead:
            if self.case.comes_out:
                yield at, tail, self._loaded(at, tail, degrees)
            tail, at = tail + self.drag_per_ft * (bend.station_ft - at), bend.station_ft
            yield at, tail, self._loaded(at, tail, degrees)
            tail = tail * capstan_factor(self.values["PIPE_FRICTION"], bend.degrees, self.ops)
            degrees -= bend.degrees
        if self.case.comes_out:
            yield at, tail, self._loaded(at, tail, degrees)
        tail = tail + self.drag_per_ft * (self.case.length_ft - at)
        yield self.case.length_ft, tail, self._loaded(self.case.length_ft, tail, degrees)

    def _loaded(self, station_ft: float, tail, degrees: float):
        return (self.head + tail + self.hold(station_ft)) * self._cable_factor(degrees)

    def peak(self):
        """Return the greatest total anywhere along the run, wiped joints included, lb."""
        peak = self.run_peak()
        for joint in cut_joints(self.case):
            peak = self.ops.maximum(peak, self.joint(joint))
        return peak

    def run_peak(self):
        """Return the greatest total along the run between joints, lb."""
        peak = 0.0
        for _, _, total in self.walk():
            peak = self.ops.maximum(peak, total)
        return peak

    def _cable_factor(self, degrees):
        return capstan_factor(self.values["CABLE_FRICTION"], degrees, self.ops)

    def _bends(self, wanted) -> list[Bend]:
        return [bend for bend in self.case.all_bends if wanted(bend.station_ft)]


def run(case: PullCase, values: Mapping[str, float], ops=SCALAR) -> Run:
    """Return the forces of a pull for one set of values (or arrays of drawn values)."""
    return Run(
        case=case,
        values=values,
        slit=0.0
        if case.comes_out
        else _slit_lbf(case, values, _wall_in(case), values["FLOW_STRESS"], ops),
        open_shell=0.0 if case.comes_out else _open_shell_lbf(case, values, ops),
        expand_soil=_expand_soil_lbf(case, values, ops),
        soil_pressure_psf=_soil_pressure_psf(case, values, ops),
        drag_per_ft=_drag_per_ft(case, values, ops),
        ops=ops,
        hold_per_ft=_hold_per_ft(case, values) if case.comes_out else 0.0,
    )


def cut_joints(case: PullCase) -> list[Joint]:
    """Return the joints that a blade cuts; of a pipe that is drawn out, none."""
    return [] if case.comes_out else [joint for joint in case.joints if joint.kind.cuttable]


def _hold_per_ft(case: PullCase, values):
    around_ft = math.pi * case.old_pipe.outside_in / 12
    return holding_psf(case.ground, case.cover_ft, values, values[SOIL_STRENGTH]) * around_ft


def joint_slit(run: Run, joint: Joint):
    """Return the part of a joint's force that the blade takes, lb."""
    wall = joint.wall_in or run.values["JOINT_WALL"]
    strength = joint.strength_psi or run.values["JOINT_STRENGTH"]
    return _slit_lbf(run.case, run.values, wall, strength, run.ops)


def _wall_in(case: PullCase) -> float:
    return (case.old_pipe.outside_in - case.old_pipe.inside_in) / 2


def _cot(degrees, ops):
    return 1 / ops.tan(ops.radians(degrees))


def _no_spacer(case: PullCase, values):
    return 1.0 if case.spacer else values["NO_SPACER_FACTOR"]


def _slit_lbf(case, values, wall_in, strength_psi, ops):
    """Plow a wedge through the wall: metal pushed aside with friction, and new surface torn."""
    wedge = 1 + values["BLADE_FRICTION"] * _cot(values["BLADE_HALF_ANGLE"], ops)
    pushed = strength_psi * values["BLADE_THICKNESS"] * wedge
    return _no_spacer(case, values) * case.edges * wall_in * (pushed + values["TEAR_WORK"])


def _cone(values, ops):
    return 1 + values["SHELL_FRICTION"] * _cot(values["CONE_HALF_ANGLE"], ops)


def _open_shell_lbf(case, values, ops):
    """Unbend the slit shell over the cone: plastic moment times the change of curvature."""
    wall = _wall_in(case)
    before = (case.old_pipe.inside_in + case.old_pipe.outside_in) / 4
    after = case.expander_in / 2 + wall / 2
    bending = values["FLOW_STRESS"] * wall**2 / 4 * 2 * math.pi * (1 - before / after)
    return _no_spacer(case, values) * bending * _cone(values, ops)


def _soil_pressure_psf(case, values, ops):
    ground, cover = case.ground, case.cover_ft
    strength, rigidity = values[SOIL_STRENGTH], values[SOIL_RIGIDITY]
    if ground.family is SoilFamily.SAND:
        mobilized = values["SAND_MOBILIZATION"]
        return sand_pressure_psf(ground.unit_weight_pcf, cover, strength, rigidity, mobilized, ops)
    old = case.old_pipe
    widened = opened_in(case) / 2
    return clay_pressure_psf(
        ground.unit_weight_pcf, cover, strength, rigidity, old.outside_in / 2, widened, ops
    )


def opened_in(case: PullCase) -> float:
    """Return the diameter to which the ground opens, in.

    The lead keeps its volume: the hole holds the expander and the metal round it, unless the old
    pipe comes out.
    """
    old = case.old_pipe
    if case.comes_out:
        return max(case.expander_in, old.outside_in)
    return math.sqrt(case.expander_in**2 + old.outside_in**2 - old.inside_in**2)


def _expand_soil_lbf(case, values, ops):
    old = case.old_pipe
    before = old.outside_in if case.comes_out else old.inside_in
    area_in2 = math.pi / 4 * max(case.expander_in**2 - before**2, 0.0)
    return _soil_pressure_psf(case, values, ops) / 144 * area_in2 * _cone(values, ops)


def _drag_per_ft(case, values, ops):
    weight = _weight_lb_ft(case, values) * values["PIPE_FRICTION"]
    if not case.depth_table:
        return ground_psf(case, values, ops) * values["PIPE_FRICTION"] * _around_ft(case) + weight
    pipe_in = case.new_pipe.outside_in
    depth_ft = effective_depth_in(case.cover_ft * 12, pipe_in) / 12
    ground = prism_drag_lbf(
        case.ground.unit_weight_pcf, depth_ft, pipe_in, 1.0, values["LATERAL_RATIO"]
    )
    return ground * values["CONTACT_FRACTION"] + weight


def ground_psf(case: PullCase, values, ops=SCALAR):
    """Return what the ground that arches over the opening presses on the new pipe with, psf."""
    clay = case.ground.family is SoilFamily.CLAY
    friction = values["CLAY_ANGLE"] if clay else values[SOIL_STRENGTH]
    width_ft = opened_in(case) / 12 * values["ARCH_WIDTH"]
    ratio = values["ARCH_RATIO"]
    return arching_psf(case.ground.unit_weight_pcf, case.cover_ft, width_ft, ratio, friction, ops)


def squeezed_per_ft(case: PullCase, values) -> float:
    """Return the drag where clay has closed on the new pipe all round, lb/ft, an upper bound.

    The whole overburden bears, and the ground can hold the pipe no faster than it sticks to it.
    """
    ground = case.ground
    pressed = values["LATERAL_RATIO"] * ground.unit_weight_pcf * case.cover_ft
    stuck = ground.adhesion_factor * ground.strength_high
    around = min(pressed, stuck or pressed) * _around_ft(case)
    return around + _weight_lb_ft(case, values) * values["PIPE_FRICTION"]


def _weight_lb_ft(case: PullCase, values):
    return case.new_pipe_weight_lb_ft or values["PIPE_WEIGHT"]


def _around_ft(case: PullCase) -> float:
    return math.pi * case.new_pipe.outside_in / 12
