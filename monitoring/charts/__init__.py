"""Charts as pictures: `specs` says what to draw (Vega-Lite), `drawing` draws it once and keeps the file."""
