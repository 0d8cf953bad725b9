"""Completion records: handed in by the contractor, accepted or returned by the utility."""

from .accepting import (
    Accepted,
    completion_accept,
    completions_accept_many,
)
from .errors import CompletionError
from .handing_in import completion_hand_in
from .returning import completion_return, completions_return_many

__all__ = [
    "Accepted",
    "CompletionError",
    "completion_accept",
    "completion_hand_in",
    "completion_return",
    "completions_accept_many",
    "completions_return_many",
]
