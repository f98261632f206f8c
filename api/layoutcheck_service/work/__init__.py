"""Work apart from HTTP: processes that can be killed, a bounded queue before them.

A check is all arithmetic. In the process that answers HTTP it would hold up every other request,
and a thread of Python can not be stopped; a process can.
"""
