"""The live job: the loop, its devices on their threads, and what is kept between jobs."""
