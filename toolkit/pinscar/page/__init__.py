"""What every report page is made of: markup, style, fonts, formulas, HTML and PDF."""
