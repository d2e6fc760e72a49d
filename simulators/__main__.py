"""`python -m simulators`: publish one simulated shift to an MQTT broker."""

from simulators.publish import main

if __name__ == "__main__":
    main()
