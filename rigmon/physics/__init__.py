"""The physics of ice, salt and mix: pure functions, floats in and floats out, arrays in and out."""
