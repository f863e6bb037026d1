"""The bench page: a local server and a page in the browser that does the whole job.

`server` listens, `guard` decides who may ask, `entry` holds the code for other machines, `app` routes,
`folder` keeps to the opened folder, `boardtext` and `bench` answer at once, `crew` and `worker` compute
off the request, `answers` is what they compute. No electronics here.
"""
