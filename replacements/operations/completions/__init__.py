"""Completion records: handed in by the contractor, accepted or returned by the utility."""

from .accepting import Accepted, completion_accept, completions_accept_many
from .errors import CompletionError, StopsShownFirst
from .handing_in import completion_hand_in, completion_objections
from .returning import (
    completion_return,
    completion_take_back,
    completions_return_many,
    review_begin,
)
