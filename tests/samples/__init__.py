"""How the invented sample builds are made: a small simulated bench whose meter readings are entered as a maker would."""
