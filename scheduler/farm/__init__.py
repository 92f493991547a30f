"""The farm: fields, machines, operators, products and programmes, read once and cross-checked as a whole."""
