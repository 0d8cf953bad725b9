"""What was sent under a one-time key, and the answer it got."""

from django.db import models


class SentOnce(models.Model):
    """A form or a device's request that was taken under a key; a repeat gets the same answer.

    `sender` is the account's id, empty of the public, whose keys are random.
    """

    sender = models.CharField(max_length=20, blank=True)
    key = models.CharField(max_length=80)
    content_sha256 = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(default=0)
    answer = models.JSONField(default=dict)
    sent_at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["sender", "key"], name="key_once_a_sender")]

    def __str__(self):
        return self.key
