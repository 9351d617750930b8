"""Job card, sheet and findings: shown from the document, holding no truth of their own."""
