"""Everything about the gauge: its file formats, record, rating and fit, recession, fetching."""
