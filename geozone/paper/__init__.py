"""Paper: the sheet for a tender document and the cards for a crew."""
