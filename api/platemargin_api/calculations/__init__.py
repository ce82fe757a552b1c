"""The built-in calculations: each module speaks HTTP for the module of the same name in `platemargin`."""
