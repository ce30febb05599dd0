"""The same ports as the hardware's, over a modelled chamber, sausage, weather and faults under simulated time."""
