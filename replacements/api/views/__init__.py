"""The views of the API, by what they speak of."""
