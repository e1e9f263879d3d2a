"""One module per sweep file format; foreign words and units end here."""
