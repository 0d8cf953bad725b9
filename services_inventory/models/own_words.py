"""What the utility's own words stand for, said by a person, one column at a time."""

from django.db import models

from .withdrawal import Withdrawable, once_standing, says_why


class OwnWord(Withdrawable):
    """One word in one column: what it stands for in every file with that heading.

    It is never edited: a wrong one is taken back, and what rested on it with it.
    """

    heading = models.CharField(max_length=200)
    heading_key = models.CharField(max_length=200)
    kind = models.CharField(max_length=12)
    word = models.CharField(max_length=200)
    word_key = models.CharField(max_length=200)
    code = models.CharField(max_length=24)
    reason = models.CharField(max_length=300, blank=True)
    file_name = models.CharField(max_length=255, blank=True)
    said_by = models.CharField(max_length=150)
    said_at = models.DateTimeField()
    # How many statements were taken back with it, in how many files.
    followed = models.JSONField(default=dict, blank=True)

    class Meta:
        constraints = [
            once_standing("heading_key", "kind", "word_key", name="own_word_once"),
            says_why("withdrawn_word_says_why"),
        ]

    def __str__(self):
        return f"{self.word} in {self.heading}: {self.code}"
