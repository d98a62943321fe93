"""The ground itself divided into lighting zones, one setting each."""
