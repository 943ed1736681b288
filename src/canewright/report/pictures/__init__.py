"""Pictures of the reports, written as SVG by our own hand; readable in grey."""
