"""The local app: an API, one socket and the pages, served to the laptop and, where asked for, to paired devices.

Routes parse, call one function of the service and show what it returns; nothing here touches files or does sums.
"""
