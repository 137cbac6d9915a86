"""What every room stands on: units, moist air, compilation, files, errors, the version."""
