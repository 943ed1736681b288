"""Reports on paper: one content, written as PDF, workbook, page or separated values.

From a notebook:

    from canewright.report.making import report_on
    from canewright.report.writers import written
    report = report_on("shift", "factory.toml", "readings.csv")
    Path("shift.pdf").write_bytes(written(report, "pdf"))
"""
