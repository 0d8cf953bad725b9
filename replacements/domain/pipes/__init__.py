"""Old and new pipe: dimensions from the published tables, and how hard a new pipe may be pulled."""

from replacements.domain.pipes.dimensions import (
    DENSITY_LB_PER_IN3,
    MATERIALS,
    MEASURED,
    BadPipe,
    Pipe,
    PipeError,
    UnknownPipe,
    dr_area_in2,
    grades_of,
    lead_outside_in,
    pipe,
    pipe_measured,
    ring_area_in2,
    sizes_of,
    water_volume_gal,
    weight_lb_per_ft,
)
from replacements.domain.pipes.pulling import (
    NEW_PIPE_MATERIALS,
    LeastRadius,
    NotPullable,
    allowable_pull_lbf,
    grip_codes,
    grip_efficiency,
    hottest_f,
    least_bend_radius,
    least_grip_efficiency,
    resins,
    weakest_resin,
)
