"""Factory files shipped with the package: demonstrations and a starter."""
