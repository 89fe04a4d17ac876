"""The screens, one file each; adding a screen is adding a file that names its TITLE, ORDER, GROUP and ROLES."""
