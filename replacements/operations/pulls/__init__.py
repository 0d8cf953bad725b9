"""Before and after a pull: the force estimate, the safe start, the log."""

from .errors import EstimateRefused, PullRefused, StartRefused
from .estimating import estimate_make
from .explaining import pull_explain, pull_explanation_withdraw
from .live import live_feed_end, live_feed_keep, live_samples_clear, live_samples_take
from .logs import LOG_LIMIT_BYTES, log_read, pull_record, pull_withdraw
from .order_state import owner_key_of
from .starting import pull_start, pull_start_withdraw
