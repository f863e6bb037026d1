"""Documents that print: the worksheet and the job record, each one HTML file that needs no other.

`words` turns results into short phrases, `sheet` and `job` say what goes on the pages, `page` puts it into
the templates.
"""
