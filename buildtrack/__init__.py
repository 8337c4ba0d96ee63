"""buildtrack: rebuild a nickel tool pack as lithium-ion, step by step, and leave a record that can be checked."""

__version__ = "0.1.0"
