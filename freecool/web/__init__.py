"""The page and the JSON interface: the same answers through a browser; extra ``web``."""
