"""Results made visible: draws what others computed, computes nothing."""
