"""What people and programs are shown: text, derivations, plain data. Nothing here judges."""
