"""Forms: what a person may enter, and the sentence when it cannot be so."""
