"""What is said wherever an answer is shown."""

CAUTIONS = (
    "An estimate, not a design. Installation by licensed technicians, to local codes.",
    "Before an outdoor-air damper is fitted: combustion-appliance draft and building pressure (a relief path), "
    "filters, smoke, pollen and security, freeze protection of coils, fresh-air minimums, duct condensation, "
    "electrical lock-out.",
    "In humid weather a dry-bulb rule alone can raise indoor humidity and the risk of mould.",
)
