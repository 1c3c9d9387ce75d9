"""A stand-in for Linux's Bluetooth service on a private message bus: the shipped library runs against it."""
