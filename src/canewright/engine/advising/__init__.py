"""What next: settings that earn most within limits, their worth and how sure it is."""
