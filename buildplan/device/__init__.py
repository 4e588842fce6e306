"""The device: will it move, will the supply carry it, will the heat get out."""
