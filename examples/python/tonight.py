import pointage

# A poolish of 500 g flour at 21 °C, ripe when I come in after 12 hours.
yeast = pointage.dose("poolish", for_h=12, at_c=21, flour_mass_g=500, yeast="instant")
print(f"{yeast['yeast_g']:.2f} g of instant yeast")
if yeast["weigh"]:
    print(yeast["weigh"]["words"])

ready = pointage.ready("poolish", yeast["dose_percent"], at_c=21)
if ready["window_h"]:
    first, last = ready["window_h"]
    print(f"good from {first:.1f} h after its mix" + (f" to {last:.1f} h" if last else ""))
