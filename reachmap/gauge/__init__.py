"""The gauge: file formats, record, rating and its fit, recession."""
