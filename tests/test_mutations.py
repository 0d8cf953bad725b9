"""A few mutated files of each kind; `python -m tests.bench mutations` tries a thousand of each."""

import logging

from tests.mutations import rows_of

A_FEW = 4


def test_a_mutated_file_of_any_kind_is_read_or_refused_in_a_sentence(tmp_path, caplog):
    caplog.set_level(logging.CRITICAL)
    for name, found in rows_of(A_FEW, tmp_path):
        assert found["tried"] == found["read"] + found["refused"] == A_FEW, name
        assert not found["traceback"] + found["no sentence"], name
