"""The second step of signing in: six digits from a telephone, or a recovery code (RFC 6238).

A code is good once. Whoever has lost both is helped by an administrator, who says why.
"""

import base64
import hashlib
import secrets

from django.conf import settings
from django.db import transaction

from .clock import machine_now, standing_day
from .models import RecoveryCode, Telephone
from .roles import role_of

CODES = 10
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that looks like another


def must_have_second_step(user) -> bool:
    """Tell whether the account needs one: by its role, and in the invented town if asked for."""
    exempt = standing_day() is not None and not settings.DEMO_SECOND_STEP
    return role_of(user) in settings.SECOND_STEP_FOR and not exempt


def second_step_of(user) -> Telephone | None:
    """Return the telephone that somebody proves who they are with."""
    return Telephone.objects.filter(user=user, confirmed=True).first()


def needs_second_step(user) -> bool:
    """Tell whether a password alone doesn't let the user in."""
    return must_have_second_step(user) or second_step_of(user) is not None


def second_step_begin(user) -> Telephone:
    """Return the telephone that is being set up; looked at again it is the same."""
    found, _ = Telephone.objects.get_or_create(user=user, confirmed=False)
    return found


@transaction.atomic
def second_step_confirm(*, user, code: str) -> list[str]:
    """Take a telephone into use by its first code; return new recovery codes, or none."""
    waiting = Telephone.objects.select_for_update().filter(user=user, confirmed=False).first()
    if second_step_of(user) or waiting is None or not waiting.verify_token(_plain(code)):
        return []
    waiting.confirmed = True
    waiting.save(update_fields=["confirmed"])
    return recovery_codes_write(user)


def recovery_codes_write(user) -> list[str]:
    """Return new recovery codes; only their digests are kept, and older ones end."""
    codes = ["".join(secrets.choice(_LETTERS) for _ in range(16)) for _ in range(CODES)]
    RecoveryCode.objects.filter(account=user).delete()
    RecoveryCode.objects.bulk_create(
        RecoveryCode(account=user, code_sha256=_digest(code)) for code in codes
    )
    return ["-".join(code[n : n + 4] for n in range(0, 16, 4)) for code in codes]


@transaction.atomic
def second_step_passed(*, user, code: str) -> bool:
    """Tell whether a code is right, of the telephone or of the list; it is used up by that."""
    code = _plain(code)
    if len(code) > 8:
        left = RecoveryCode.objects.filter(account=user, used_at=None, code_sha256=_digest(code))
        return bool(left.update(used_at=machine_now()))
    device = Telephone.objects.select_for_update().filter(user=user, confirmed=True).first()
    return device is not None and device.verify_token(code)


def second_step_remove(user) -> None:
    """Forget the telephone and the codes."""
    Telephone.objects.filter(user=user).delete()
    RecoveryCode.objects.filter(account=user).delete()


def picture(text: str) -> str:
    """Return a text as a QR code, as the address of an image."""
    from reportlab.graphics import renderSVG
    from reportlab.graphics.barcode.qr import QrCodeWidget
    from reportlab.graphics.shapes import Drawing

    drawing = Drawing(200, 200)
    drawing.add(QrCodeWidget(text, barWidth=200, barHeight=200, barLevel="M"))
    drawn = renderSVG.drawToString(drawing)
    return "data:image/svg+xml;base64," + base64.b64encode(drawn.encode()).decode()


def _plain(code: str) -> str:
    return "".join(letter for letter in code.lower() if letter.isascii() and letter.isalnum())


def _digest(code: str) -> str:
    return hashlib.sha256(code.encode()).hexdigest()
