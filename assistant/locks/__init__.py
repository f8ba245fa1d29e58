"""One program at a time: a lock of the operating system on a file, signed by who holds it"""
