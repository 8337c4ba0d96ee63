"""The graph of derived values: which working needs which items, calling buildtrack.physics."""
