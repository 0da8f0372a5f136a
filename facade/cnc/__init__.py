"""Files for the machine: profiles for strips on their side, surfaces and machine code for strips on a fixture."""
