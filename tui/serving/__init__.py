"""The screens in a browser: a small web server that runs the same application, one process for each tab.

It listens to this machine alone unless told otherwise, asks no other host for anything, and encrypts nothing: whoever
opens it to other machines puts a reverse proxy with https in front, and gives an access token.
"""
