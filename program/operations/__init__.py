"""Everything that writes the program's own record, one named operation each.

Import from the module named. The runners that `settings.BATCH_KINDS` names here are found on
demand, so that nothing heavy is loaded before a long operation runs.
"""

from importlib import import_module

_RUNNERS = {
    "submission_run": "submission_batches",
    "plan_run": "plans",
    "letters_run": "notices",
}


def __getattr__(name: str):
    if name not in _RUNNERS:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_RUNNERS[name]}"), name)
