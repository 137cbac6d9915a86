"""The free-cooling physics: arrays and SI floats in, arrays out."""
