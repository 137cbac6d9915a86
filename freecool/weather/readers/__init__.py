"""One reader for each kind of weather source; every one ends in one `Weather`."""
