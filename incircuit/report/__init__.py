"""Documents that print: the worksheet on paper and the job record, each one HTML file with nothing outside it.

`words` turns results into short phrases, `sheet` and `job` say what goes on the pages, `page` puts it into
the templates.
"""
