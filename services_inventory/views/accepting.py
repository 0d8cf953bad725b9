"""Doing what a form asks, or putting the reason why not beside what was entered."""

from collections.abc import Callable


def accepted(form, act: Callable[[dict], object], refusal: type[Exception]):
    """Return what `act` returns for a valid form's data (or True), or None with the form's errors.

    A refusal's message is fit to show, and nothing was kept when it was raised.
    """
    if not form.is_valid():
        return None
    try:
        return act(form.cleaned_data) or True
    except refusal as problem:
        form.add_error(None, str(problem))
    return None
