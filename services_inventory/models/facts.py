"""Facts and their sums as the database adds them up: to find quickly, no part of the record.

Both tables can be emptied at any time: they are written again from the evidence.
"""

from django.db import models


class KnownFact(models.Model):
    """The code of a fact under one rule, with a statement that reduces to it."""

    code = models.BigIntegerField(primary_key=True)
    rule = models.CharField(max_length=16)
    statement = models.JSONField()

    def __str__(self):
        return f"{self.code}: {self.statement}"


class KnownSum(models.Model):
    """A sum of codes that a line's evidence was found to have, with the codes it is made of."""

    total = models.BigIntegerField(primary_key=True)
    codes = models.JSONField()

    def __str__(self):
        return f"{self.total}: {self.codes}"
